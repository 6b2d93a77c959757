"""Whole-number columns, the constraints that prove them whole, and what columns are called."""

from collections.abc import Callable
from typing import TYPE_CHECKING, TypeVar

from django.db.models import BaseConstraint, BigIntegerField, CheckConstraint, F, Model, Q
from django.db.models.functions import Cast

if TYPE_CHECKING:
    from django.utils.functional import _StrOrPromise

Row = TypeVar("Row", bound=Model)

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


def called(table: "_StrOrPromise" = "", /, **names: "_StrOrPromise") -> Callable[[type[Row]], type[Row]]:
    """Name a model and its columns for people. A `verbose_name` would need a migration for every better word."""

    def name(model: type[Row]) -> type[Row]:
        model._meta.verbose_name = table or model._meta.verbose_name
        columns = {field.name: field for field in model._meta.local_fields}
        for column, label in names.items():
            columns[column].verbose_name = label
        return model

    return name
