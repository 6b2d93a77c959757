"""The period that is asked about, and what stock is written down to."""

from collections.abc import Sequence
from datetime import date, timedelta
from typing import Any

from django import forms
from django.db.models import Min
from django.forms.boundfield import BoundField
from django.utils import timezone
from django.utils.translation import gettext_lazy

from costing.reports.actions import WriteDownFacts
from costing.reports.queries import Period
from costing.reports.statement import STAGES
from costing.reports.tables import owned_name
from costing.reports.write_downs import Proposal
from inventory.ledger.models import Posting
from inventory.ledger.posting import EARLIEST_YEAR
from studio.pages.forms import DayInput, KeyedForm, MoneyField, StudioForm
from studio.translation import _

LONGEST = timedelta(days=10 * 366)


def usual_period(today: date) -> Period:
    """The last year that is over; this one so far where the books began in it."""
    begun = Posting.objects.aggregate(first=Min("effective_on"))["first"]
    if begun is not None and begun.year == today.year:
        return Period(date(today.year, 1, 1), today)
    year = today.year - 1
    return Period(date(year, 1, 1), date(year, 12, 31))


def too_early() -> str:
    """What is said of a period that begins before any books did."""
    return _("Use a day from {year} on.", year=EARLIEST_YEAR)


class PeriodForm(StudioForm):
    """From the beginning of one day to the end of another, today at the latest; the usual one unless asked."""

    first = forms.DateField(label=gettext_lazy("From"), widget=DayInput, required=False)
    last = forms.DateField(label=gettext_lazy("To"), widget=DayInput, required=False)
    is_cut = False  # its last day was in the future, and it ends today

    def clean_last(self) -> date | None:
        last: date | None = self.cleaned_data["last"]
        self.is_cut = last is not None and last > timezone.localdate()
        return timezone.localdate() if self.is_cut else last

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        first, last = cleaned.get("first"), cleaned.get("last")
        if first is None or last is None:
            missing = "first" if first is None else "last"
            if (first or last) and missing not in self.errors:
                self.add_error(missing, _("Enter this day too."))
        elif first > timezone.localdate():
            self.add_error("first", _("Use today or an earlier day."))
        elif last < first:
            self.add_error("last", _("Use the first day or a later one."))
        elif first.year < EARLIEST_YEAR:
            self.add_error("first", too_early())
        elif last - first > LONGEST:
            self.add_error("last", _("A period is at most ten years long."))
        return cleaned

    @property
    def period(self) -> Period:
        """What was asked for, where it can be read."""
        first, last = (self.cleaned_data.get(name) for name in ("first", "last"))
        if self.is_valid() and first and last:
            return Period(first, last)
        return usual_period(timezone.localdate())


class DayForm(StudioForm):
    """The end of which day: today's unless one is chosen."""

    day = forms.DateField(label=gettext_lazy("Day"), widget=DayInput, required=False)
    stage = forms.ChoiceField(
        label=gettext_lazy("Stage"),
        required=False,
        choices=[
            ("", gettext_lazy("Everything")),
            *((stage.value, label) for stage, label in STAGES.items()),
        ],
    )

    def clean_day(self) -> date:
        day: date = self.cleaned_data["day"] or timezone.localdate()
        if day > timezone.localdate():
            raise forms.ValidationError(_("Use today or an earlier day."))
        return day


class WriteDownForm(KeyedForm):
    """Each proposed item with a tick, and what it will bring."""

    on = forms.DateField(widget=forms.HiddenInput)
    note = forms.CharField(label=gettext_lazy("Note"), max_length=200, required=False)

    def __init__(self, *args: Any, proposals: Sequence[Proposal], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.proposals = {_name(each): each for each in proposals}
        for name, each in self.proposals.items():
            self.fields[f"take-{name}"] = forms.BooleanField(
                label=owned_name(each.owned), required=False, initial=True
            )
            value = MoneyField(
                label=gettext_lazy("Will bring ({currency})"), required=False, initial=each.value
            )
            value.write_as(self.formatter)
            value.label = str(value.label).format(currency=self.studio.currency)
            self.fields[f"value-{name}"] = value

    @property
    def rows(self) -> list[tuple[BoundField, Proposal, BoundField]]:
        """Each item with its tick and its value."""
        return [(self[f"take-{name}"], each, self[f"value-{name}"]) for name, each in self.proposals.items()]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        for name in self.proposals:
            field = f"value-{name}"
            if cleaned.get(f"take-{name}") and cleaned.get(field) is None and field not in self.errors:
                self.add_error(field, _("Enter what it will bring; 0 for nothing."))
        return cleaned

    @property
    def items(self) -> list[WriteDownFacts]:
        """What was ticked."""
        sent = self.cleaned_data
        return [
            WriteDownFacts(sent[f"value-{name}"], each.owned.lot, each.owned.piece, sent["note"])
            for name, each in self.proposals.items()
            if sent[f"take-{name}"]
        ]


def _name(proposal: Proposal) -> str:
    owned = proposal.owned
    return f"piece-{owned.piece.pk}" if owned.piece else f"lot-{owned.lot.pk if owned.lot else 0}"
