"""Rows that say what holds from a day on."""

from collections.abc import Callable, Sequence
from datetime import date
from typing import ClassVar

from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import BaseConstraint, CheckConstraint, F, Q, UniqueConstraint, Value
from django.db.models.functions import Coalesce
from django.utils.formats import date_format

from studio.translation import _


class Dated(models.Model):
    """What holds from a day on; without a day, from the beginning. A value that is missing stays as it was before.

    `values` are the columns of which a row has at least one; rows of the same `owner` columns differ in their days.
    """

    values: ClassVar[Sequence[str]] = ()
    owner: ClassVar[Sequence[str]] = ()

    holds_from = models.DateField(null=True, blank=True)

    class Meta:
        abstract = True
        ordering = [F("holds_from").asc(nulls_first=True)]

    def clean(self) -> None:
        """Raises ValidationError for a day that has its row already, and for a row that says nothing."""
        others = type(self)._default_manager.exclude(pk=self.pk)
        others = others.filter(**{name: getattr(self, name) for name in self.owner})
        same = Q(holds_from=self.holds_from)
        if (self.holds_from or date.min) == date.min:  # the first day there is: no day comes before it
            same = Q(holds_from__isnull=True) | Q(holds_from=date.min)
        if others.filter(same).exists():
            taken = _("There is already an entry from that day. Change that one instead.")
            raise ValidationError({"holds_from": taken})
        if all(getattr(self, name) is None for name in self.values):
            raise ValidationError(_("Enter at least one value."))


def since_in_words(since: date | None, write: Callable[[date], str] = date_format) -> str:
    """The first day of something that holds, "since 1 Apr 2026": as the reader's language writes days, or as told."""
    return _("since {day}", day=write(since)) if since else _("since the beginning")


def dated_rules(
    table: str, values: Sequence[str], *owner: str, figures: Sequence[str]
) -> list[BaseConstraint]:
    """Constraints: an owner has one row for a day and one from the beginning; each says something, nothing below 0."""
    is_set, is_positive = Q(), Q()
    for name in values:
        is_set |= Q(**{f"{name}__isnull": False})
    for name in figures:
        is_positive &= Q(**{f"{name}__isnull": True}) | Q(**{f"{name}__gte": 0})
    day = Coalesce("holds_from", Value(date.min))
    return [
        UniqueConstraint(*owner, day, name=f"{table}_once_a_day"),
        CheckConstraint(condition=is_set & is_positive, name=f"{table}_sensible"),
    ]
