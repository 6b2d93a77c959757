"""A market day, its packing list and its cash count, as they are typed."""

import re
from typing import Any, cast

from django import forms
from django.urls import reverse
from django.utils import timezone
from django.utils.html import format_html
from django.utils.translation import gettext_lazy, pgettext_lazy

from costing.markets.actions.packing import LONGEST_BOX
from costing.markets.models import LONGEST_WORK, DistanceUnit, MarketDay
from costing.pieces.models import Piece
from costing.pricing.models import Payment, SalesChannel
from studio.errors import InputError
from studio.pages.forms import (
    DayInput,
    Fieldset,
    KeyedForm,
    MoneyField,
    NotesField,
    RowForm,
    StudioForm,
    TypedField,
)
from studio.preferences.formatting import Formatter
from studio.translation import _
from studio.values.numbers import format_scaled, read_decimal, tidy

MEASURED_IN_MILES = {"GB", "GG", "IM", "JE", "LR", "PR", "US"}  # whose roads are (from memory)
UNITS_OF_DISTANCE = dict.fromkeys(("km", "kilometre", "kilometres", "kilometer", "kilometers"), "km") | (
    dict.fromkeys(("mi", "mile", "miles", "meile", "meilen"), "mi")
)
DISTANCE = re.compile(rf"(?P<number>[^A-Za-z]+?)\s*(?P<unit>{'|'.join(UNITS_OF_DISTANCE)})?", re.IGNORECASE)
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


class DistanceField(TypedField):
    """A distance in thousandths of its unit, kilometres or miles: a bare number is in the unit it begins with."""

    unit: str = DistanceUnit.KILOMETRE

    def write_as(self, formatter: Formatter) -> None:
        self.unit = usual_unit(formatter)
        super().write_as(formatter)

    def read(self, text: str) -> int:
        typed = DISTANCE.fullmatch(tidy(text, example=self.write(24_000)))
        if typed is None:
            raise InputError(
                _("Enter a distance in km or miles, such as {example}.", example=self.write(24_000))
            )
        if typed["unit"]:
            self.unit = UNITS_OF_DISTANCE[typed["unit"].casefold()]
        scaled = read_decimal(typed["number"], decimal_comma=self.formatter.decimal_comma) * 1000
        if scaled <= 0 or scaled.denominator != 1:
            raise InputError(_("Enter a distance above zero, with at most {most} decimals.", most=3))
        return int(scaled)

    def write(self, amount: int) -> str:
        return f"{format_scaled(amount, 3, decimal_comma=self.formatter.decimal_comma)} {self.unit}"


def usual_unit(formatter: Formatter) -> str:
    """What roads are measured in where the studio's way of writing is at home."""
    in_miles = formatter.locale.replace("_", "-").split("-")[-1] in MEASURED_IN_MILES
    return DistanceUnit.MILE if in_miles else DistanceUnit.KILOMETRE


class MarketDayForm(RowForm):
    """A market day: where and when, what it costs, which sales are its own."""

    fieldsets = (
        Fieldset(gettext_lazy("The market"), ("name", "held_on", "place", "notes")),
        Fieldset(
            gettext_lazy("Sales channels"),
            ("cash_channel", "card_channel"),
            gettext_lazy(
                "One of them or both. Every sale of that day through these channels counts as takings of this market."
            ),
        ),
        Fieldset(
            gettext_lazy("Costs of the day"),
            ("pitch_fee", "distance", "distance_rate", "travel_sum", "minutes", "till_float"),
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
    distance = DistanceField(label=gettext_lazy("Distance there and back"), required=False, example=24_000)
    distance_rate = MoneyField(
        required=False,
        example=450_000,
        help_text=gettext_lazy("For each km or mile, whichever the distance is in."),
    )
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
            "name", "held_on", "place", "cash_channel", "card_channel", "pitch_fee", "distance", "distance_rate",
            "travel_sum", "minutes", "till_float", "notes",
        )  # fmt: skip
        labels = {"name": gettext_lazy("Name"), "place": pgettext_lazy("market", "Place")}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self._measure_in(self.instance if self.instance.distance else None)
        used = self.instance.channels if self.instance.pk else []
        for name in ("cash_channel", "card_channel"):
            choices = SalesChannel.objects.filter(is_active=True) | SalesChannel.objects.filter(pk__in=used)
            self.fields[name].queryset = choices  # type: ignore[attr-defined]
        if not SalesChannel.objects.filter(is_active=True, payment=Payment.CASH).exists():
            self.fields["cash_channel"].help_text = format_html(
                _("No sales channel is paid in cash yet. The owner can {add}."),
                add=format_html(
                    '<a href="{}">{}</a>', reverse("costing:channel-new"), _("add a sales channel")
                ),
            )

    def _measure_in(self, written: MarketDay | None) -> None:
        """Offer the distance in the unit it was written in, else as last time, else as roads are measured there."""
        distance = cast("DistanceField", self.fields["distance"])
        if written is not None:
            distance.unit = written.distance_unit
        elif self.initial.get("distance"):
            distance.unit = self.initial["distance_unit"]
        currency = self.formatter.currency
        in_miles = distance.unit == DistanceUnit.MILE
        self.fields["distance_rate"].label = (
            _("Rate per mile ({currency})", currency=currency)
            if in_miles
            else _("Rate per km ({currency})", currency=currency)
        )

    def _post_clean(self) -> None:
        super()._post_clean()
        if self.cleaned_data.get("distance"):
            self.instance.distance_unit = cast("DistanceField", self.fields["distance"]).unit


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

    counted = MoneyField(label=gettext_lazy("Cash counted ({currency})"), example=184_000_000)
    paid_out = MoneyField(
        label=gettext_lazy("Paid out of the till ({currency})"),
        initial=0,
        help_text=gettext_lazy("What you took out during the day: parking, change, a refund."),
    )
    note = forms.CharField(label=gettext_lazy("Note"), max_length=200, required=False)
    field_order = ("counted", "paid_out", "note")
