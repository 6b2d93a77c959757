"""What a year's overhead is expected to be, and what it was. Money is millionths of the currency unit."""

from datetime import timedelta
from typing import Any

from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q
from django.utils.formats import date_format
from django.utils.translation import pgettext_lazy

from studio.auditing.recording import audited
from studio.constraints import called, whole
from studio.translation import _

MOST_HOURS = 100_000
LONGEST = timedelta(days=365)  # from the first to the last day: a year, a leap year too
AMOUNT: dict[str, Any] = {"validators": [MinValueValidator(0)]}


@audited(units={"paid_in_total": "money"})
@called(
    pgettext_lazy("table", "year of overhead"),
    starts_on=pgettext_lazy("column", "first day"),
    ends_on=pgettext_lazy("column", "last day"),
    hours=pgettext_lazy("column", "estimated hours"),
    paid_in_total=pgettext_lazy("column", "paid in total"),
)
class OverheadYear(models.Model):
    """A year, or a part of one, with the hours that are expected to carry its overhead.

    What was paid is the total, where one is entered, and else that of the lines.
    """

    starts_on = models.DateField()
    ends_on = models.DateField()
    hours = models.PositiveIntegerField(validators=[MinValueValidator(1), MaxValueValidator(MOST_HOURS)])
    paid_in_total = models.BigIntegerField(null=True, blank=True, **AMOUNT)

    class Meta:
        ordering = ["-starts_on", "-ends_on"]
        constraints = [
            models.UniqueConstraint(fields=["starts_on", "ends_on"], name="overheadyear_once"),
            models.CheckConstraint(
                condition=Q(ends_on__gte=F("starts_on"), hours__range=(1, MOST_HOURS))
                & (Q(paid_in_total__isnull=True) | Q(paid_in_total__gte=0)),
                name="overheadyear_sensible",
            ),
            *whole("overheadyear", "paid_in_total"),
        ]

    def __str__(self) -> str:
        first, last = (date_format(day) for day in (self.starts_on, self.ends_on))
        return _("{first} to {last}", first=first, last=last)

    def clean(self) -> None:
        """Raises ValidationError, naming what is wrong with it."""
        if self.starts_on is None or self.ends_on is None:
            return
        if self.ends_on < self.starts_on:
            raise ValidationError({"ends_on": _("The last day comes before the first one.")})
        if self.ends_on - self.starts_on > LONGEST:
            raise ValidationError(
                {"ends_on": _("Enter a year or less. Start another for the time after it.")}
            )
        others = OverheadYear.objects.exclude(pk=self.pk)
        if others.filter(starts_on=self.starts_on, ends_on=self.ends_on).exists():
            raise ValidationError({"starts_on": _("This time has been entered already. Change that entry.")})


@audited(units={"estimated": "money", "paid": "money"})
@called(
    pgettext_lazy("table", "line of overhead"),
    year=pgettext_lazy("column", "year"),
    name=pgettext_lazy("column", "name"),
    estimated=pgettext_lazy("column", "estimated"),
    paid=pgettext_lazy("column", "paid"),
)
class OverheadLine(models.Model):
    """One kind of overhead in a year: what it was expected to come to, and what was paid; None until it is known."""

    year = models.ForeignKey(OverheadYear, on_delete=models.CASCADE, related_name="lines")
    name = models.CharField(max_length=80)
    estimated = models.BigIntegerField(**AMOUNT)
    paid = models.BigIntegerField(null=True, blank=True, **AMOUNT)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(fields=["year", "name"], name="overheadline_once"),
            models.CheckConstraint(
                condition=Q(estimated__gte=0) & (Q(paid__isnull=True) | Q(paid__gte=0)),
                name="overheadline_sensible",
            ),
            *whole("overheadline", "estimated", "paid"),
        ]

    def __str__(self) -> str:
        return self.name

    def clean(self) -> None:
        """Raises ValidationError for a name that another line of the year has."""
        others = OverheadLine.objects.exclude(pk=self.pk)
        if self.year_id and others.filter(year=self.year_id, name=self.name).exists():
            raise ValidationError({"name": _("This year has a line of that name. Choose another.")})
