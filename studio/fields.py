"""Whole-number columns and the constraints that prove them whole."""

from django.db.models import BaseConstraint, BigIntegerField, CheckConstraint, F, Q
from django.db.models.functions import Cast

LARGEST = 9 * 10**15


def whole(table: str, *columns: str) -> list[BaseConstraint]:
    """Constraints: each column lies within ±9·10¹⁵ and is a whole number.

    SQLite would otherwise store 1.5 in an integer column, and PostgreSQL would round it in silence.
    """
    return [
        CheckConstraint(
            condition=Q(**{f"{column}__isnull": True})
            | (
                Q(**{f"{column}__range": (-LARGEST, LARGEST)})
                & Q(**{column: Cast(F(column), BigIntegerField())})
            ),
            name=f"{table}_{column}_whole",
        )
        for column in columns
    ]


def one_of(table: str, column: str, values: list[str]) -> BaseConstraint:
    """Constraint: the column holds one of the listed words."""
    return CheckConstraint(condition=Q(**{f"{column}__in": values}), name=f"{table}_{column}_known")
