"""A market day, its packing list and its cash count, as they are typed."""

import re
from typing import Any

from django import forms
from django.utils import timezone
from django.utils.translation import gettext_lazy

from costing.markets.actions.packing import LONGEST_BOX
from costing.markets.models import LONGEST_WORK, MarketDay
from costing.pieces.models import Piece
from costing.pricing.models import SalesChannel
from studio.errors import InputError
from studio.pages.forms import (
    DayInput,
    Fieldset,
    KeyedForm,
    MoneyField,
    NotesField,
    RatioField,
    RowForm,
    StudioForm,
    TypedField,
)
from studio.translation import _
from studio.values.numbers import read_decimal

CLOCK = re.compile(r"([0-9]{1,3}):([0-5][0-9])", re.ASCII)


def hours_text(minutes: int) -> str:
    """Minutes as they are typed: "9:30"."""
    return f"{minutes // 60}:{minutes % 60:02}"


class HoursField(TypedField):
    """Hours as minutes: "9", "9.5" or "9:30"."""

    def read(self, text: str) -> int:
        clock = CLOCK.fullmatch(text)
        if clock:
            minutes = int(clock[1]) * 60 + int(clock[2])
        else:
            exact = read_decimal(text, decimal_comma=self.formatter.decimal_comma) * 60
            if exact.denominator != 1:
                raise InputError(_("Enter whole minutes, such as 9:20."))
            minutes = int(exact)
        if not 0 <= minutes <= LONGEST_WORK:
            raise InputError(_("Enter from 0 to {most} hours.", most=LONGEST_WORK // 60))
        return minutes

    def write(self, amount: int) -> str:
        return hours_text(amount)


class MarketDayForm(RowForm):
    """A market day: where and when, what it costs, which sales are its own."""

    fieldsets = (
        Fieldset(gettext_lazy("The market"), ("name", "held_on", "place", "notes")),
        Fieldset(
            gettext_lazy("Sales channels"),
            ("cash_channel", "card_channel"),
            gettext_lazy("Every sale of that day through these channels counts as takings of this market."),
        ),
        Fieldset(
            gettext_lazy("Costs of the day"),
            ("pitch_fee", "metres", "rate_per_km", "travel_sum", "minutes", "till_float"),
            gettext_lazy("Enter the trip as a distance with a rate, or as a sum."),
        ),
    )
    held_on = forms.DateField(label=gettext_lazy("Day"), widget=DayInput, initial=timezone.localdate)
    cash_channel = forms.ModelChoiceField(
        SalesChannel.objects.filter(is_active=True),
        label=gettext_lazy("Paid in cash"),
        required=False,
        empty_label=gettext_lazy("No cash"),
    )
    card_channel = forms.ModelChoiceField(
        SalesChannel.objects.filter(is_active=True),
        label=gettext_lazy("Paid by card"),
        required=False,
        empty_label=gettext_lazy("No cards"),
    )
    pitch_fee = MoneyField(label=gettext_lazy("Pitch fee ({currency})"), initial=0)
    metres = RatioField(
        unit="km", places=3, label=gettext_lazy("Distance there and back"), required=False, example="24 km"
    )
    rate_per_km = MoneyField(label=gettext_lazy("Rate per km ({currency})"), required=False, example="0.45")
    travel_sum = MoneyField(
        label=gettext_lazy("Or travel as a sum ({currency})"),
        required=False,
        help_text=gettext_lazy("Fares, parking, a hired van."),
    )
    minutes = HoursField(
        label=gettext_lazy("Hours worked"),
        initial=0,
        help_text=gettext_lazy(
            "Of everybody together, with packing and the trip: 9:30. They cost the hourly rate of that day."
        ),
    )
    till_float = MoneyField(
        label=gettext_lazy("Float ({currency})"),
        initial=0,
        help_text=gettext_lazy("The change in the till before the first sale."),
    )
    notes = NotesField()

    class Meta:
        model = MarketDay
        fields = (
            "name", "held_on", "place", "cash_channel", "card_channel", "pitch_fee", "metres", "rate_per_km",
            "travel_sum", "minutes", "till_float", "notes",
        )  # fmt: skip
        labels = {"name": gettext_lazy("Name"), "place": gettext_lazy("Place")}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        used = self.instance.channels if self.instance.pk else []
        for name in ("cash_channel", "card_channel"):
            choices = SalesChannel.objects.filter(is_active=True) | SalesChannel.objects.filter(pk__in=used)
            self.fields[name].queryset = choices  # type: ignore[attr-defined]


class PackForm(StudioForm):
    """Pieces that go into a box."""

    box = forms.CharField(label=gettext_lazy("Box"), max_length=LONGEST_BOX)
    pieces = forms.ModelMultipleChoiceField(
        Piece.objects.all(),
        label=gettext_lazy("Pieces"),
        error_messages={"required": gettext_lazy("Choose at least one piece.")},
    )


class CashCountForm(KeyedForm):
    """What is in the till after the market."""

    counted = MoneyField(label=gettext_lazy("Cash counted ({currency})"), example="184.50")
    paid_out = MoneyField(
        label=gettext_lazy("Paid out of the till ({currency})"),
        initial=0,
        help_text=gettext_lazy("What you took out during the day: parking, change, a refund."),
    )
    note = forms.CharField(label=gettext_lazy("Note"), max_length=200, required=False)
    field_order = ("counted", "paid_out", "note")
