"""Counting the shelf, and entering what stood there before the books began."""

from collections.abc import Iterator, Sequence
from typing import Any

from django import forms
from django.forms import BoundField
from django.http import QueryDict
from django.utils.translation import gettext_lazy

from inventory.errors import InventoryError
from inventory.ledger.models import Lot
from inventory.materials.choices import MaterialRowForm
from inventory.materials.models import Material
from inventory.purchasing.actions.deliveries import OpeningLine
from inventory.stock.actions.stocktakes import Count, weighed
from inventory.stock.counting import ValuedLine, expected, pack_sizes, valued
from inventory.stock.packs_left import spoken_packs, times
from studio.errors import InputError
from studio.pages.forms import DayInput, KeyedForm, MoneyField, QuantityField, StudioForm
from studio.pages.formsets import rows_of
from studio.preferences.models import Studio
from studio.translation import _
from studio.values.numbers import NO_BREAK_SPACE, read_small_whole
from studio.values.units import Measure

MOST_OPENING_LINES = 60
AN_AMOUNT = 120_000  # an example: 120 mL


class StocktakeForm(KeyedForm):
    """The day of the count. `seen` names what the review showed, so that nothing else is posted unseen."""

    counted_on = forms.DateField(label=gettext_lazy("Stocktake date"), widget=DayInput)
    notes = forms.CharField(label=gettext_lazy("Notes"), max_length=500, required=False)
    seen = forms.CharField(required=False, max_length=20_000, widget=forms.HiddenInput)


class CountForm(StudioForm):
    """The count of one lot, typed or weighed. Left blank it was not counted."""

    found = forms.CharField(label=gettext_lazy("Found"), max_length=60, required=False)
    gross = QuantityField(
        label=gettext_lazy("Weight now"), measure=Measure.MASS, required=False, example="612 g"
    )
    empty = QuantityField(
        label=gettext_lazy("Empty weight"),
        measure=Measure.MASS,
        allow_zero=True,
        required=False,
        example="34 g",
    )

    def __init__(self, *args: Any, lot: Lot, pack: int | None = None, **kwargs: Any) -> None:
        """`pack` is how much was in a full bottle of the lot, where that is known."""
        kwargs.setdefault("prefix", f"lot-{lot.pk}")
        kwargs.setdefault("initial", {"empty": lot.empty_weight})
        super().__init__(*args, **kwargs)
        self.lot, self.pack = lot, pack
        self.barcodes = ""  # of the packs it is sold in: a scan finds the row by them
        self.count: Count | None = None
        measure = lot.material.measure
        if not (measure == Measure.MASS or (measure == Measure.VOLUME and lot.material.density)):
            del self.fields["gross"], self.fields["empty"]
        for field in self.fields.values():
            field.widget.attrs["aria-label"] = f"{field.label!s}: {lot.material.name}, {lot.label}"

    @property
    def label(self) -> str:
        """What errors call the row."""
        return self.lot.label

    @property
    def expected(self) -> int:
        return expected(self.lot)

    @property
    def can_be_weighed(self) -> bool:
        return "gross" in self.fields

    @property
    def lacks_density(self) -> bool:
        """Whether it could be weighed if only its density were known."""
        return self.lot.material.measure == Measure.VOLUME and not self.can_be_weighed

    @property
    def cells(self) -> list[tuple[BoundField | None, Any]]:
        """Its fields with the headings of their columns; None where the lot cannot be weighed."""
        headings = {"found": _("Found"), "gross": _("or weight now"), "empty": _("Empty weight")}
        return [(self[name] if name in self.fields else None, label) for name, label in headings.items()]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        gross, material = cleaned.get("gross"), self.lot.material
        if cleaned.get("found") and gross is not None:
            self.add_error("gross", _("Enter an amount or a weight, not both."))
        elif cleaned.get("found"):
            amount = self._in_packs(cleaned["found"])
            if amount is None and not self.has_error("found"):
                amount = self.read_amount(
                    "found", material.measure, density=material.density, allow_zero=True
                )
            if amount is not None:
                # In every language the same words: the ledger knows a request sent twice by them.
                self.count = Count(self.lot, amount, f"Counted: {' '.join(cleaned['found'].split())}")
        elif gross is not None and "empty" not in self.errors:
            self._weigh(gross, cleaned.get("empty"))
        return cleaned

    def _in_packs(self, typed: str) -> int | None:
        """What is left of a liquid or a powder as a part of its bottle; None where an amount was typed."""
        if self.lot.material.measure not in (Measure.VOLUME, Measure.MASS):
            return None
        try:
            packs = spoken_packs(typed, decimal_comma=self.formatter.decimal_comma)
        except InputError as problem:
            self.add_error("found", str(problem))
            return None
        if packs is not None and self.pack is None:
            example = self.formatter.quantity(AN_AMOUNT, self.lot.material.measure)
            self.add_error(
                "found",
                _(
                    "How much a full one holds is not recorded. Enter an amount, such as {example}.",
                    example=example,
                ),
            )
        return None if packs is None or self.pack is None else times(packs, self.pack)

    def _weigh(self, gross: int, empty: int | None) -> None:
        try:
            amount = weighed(self.lot, gross, empty)
        except InventoryError as problem:
            self.add_error("gross", _without_label(self.lot, problem))
            return
        less = self.lot.empty_weight if empty is None else empty
        how = f"Weighed: {self._grams(gross)} less {self._grams(less or 0)} empty"
        self.count = Count(self.lot, amount, how)

    def _grams(self, amount: int) -> str:
        return self.formatter.quantity(amount, Measure.MASS).replace(NO_BREAK_SPACE, " ")


def _without_label(lot: Lot, problem: InventoryError) -> str:
    """The row says which lot it is already."""
    words = str(problem).removeprefix(f"{lot.label}: ")
    return words[:1].upper() + words[1:]


class CountSheet:
    """The whole stocktake: its day and a row for every lot."""

    def __init__(
        self, *, studio: Studio, lots: Sequence[Lot], data: QueryDict | None = None, **first: Any
    ) -> None:
        self.form = StocktakeForm(data, studio=studio, initial=first)
        packs = pack_sizes(lots)
        self.rows = [CountForm(data, studio=studio, lot=lot, pack=packs.get(lot.pk)) for lot in lots]

    def __iter__(self) -> Iterator[CountForm]:
        return iter(self.rows)

    @property
    def weighs(self) -> bool:
        """Whether any of the lots can be weighed."""
        return any(row.can_be_weighed for row in self.rows)

    @property
    def lacks_density(self) -> bool:
        return any(row.lacks_density for row in self.rows)

    def is_valid(self) -> bool:
        """Judge everything; a stocktake of nothing is refused."""
        valid = all([self.form.is_valid(), *(row.is_valid() for row in self.rows)])
        if valid and not self.counts:
            self.form.add_error(None, _("Nothing entered yet. Fill in at least one lot."))
        return valid and bool(self.counts)

    def total_error_count(self) -> int:
        return sum(len(row.errors) for row in self.rows)

    @property
    def counts(self) -> list[Count]:
        return [row.count for row in self.rows if row.count is not None]

    @property
    def lines(self) -> list[ValuedLine]:
        return valued(self.counts, on=self.form.cleaned_data["counted_on"])

    @property
    def what_was_seen(self) -> str:
        """What the review shows, written so that any change since can be told."""
        return " ".join(
            f"{line.lot.pk}:{line.expected}:{line.counted}" for line in (each.line for each in self.lines)
        )

    @property
    def typed(self) -> list[tuple[str, str]]:
        """Everything typed, to travel with the review."""
        fields = [self.form[name] for name in ("key", "counted_on", "notes")]
        fields += [row[name] for row in self.rows if row.count is not None for name in row.fields]
        return [(field.html_name, str(field.data or "")) for field in fields]


def lots_typed(data: QueryDict) -> set[int]:
    """The lots that something was typed for."""
    lots = set()
    for name in data:
        start, _dash, rest = name.partition("-")
        number, _dash, field = rest.partition("-")
        lot = read_small_whole(number)
        if start == "lot" and field in ("found", "gross") and str(data[name]).strip() and lot is not None:
            lots.add(lot)
    return lots


class OpeningForm(KeyedForm):
    """The day the books begin."""

    on = forms.DateField(label=gettext_lazy("Stock as of"), widget=DayInput)


class OpeningLineForm(MaterialRowForm):
    """One bottle, jar or box as it stood. Blank lines are left out."""

    amount_field = "quantity"
    quantity = forms.CharField(
        label=gettext_lazy("Amount left"),
        max_length=60,
        widget=forms.TextInput(attrs={"placeholder": "350 ml"}),
    )
    cost = MoneyField(
        label=gettext_lazy("Cost of what is left"),
        example=6_000_000,
        help_text=gettext_lazy("0 if it was free."),
    )
    opened_on = forms.DateField(label=gettext_lazy("Opened on"), widget=DayInput, required=False)
    best_before = forms.DateField(label=gettext_lazy("Best before"), widget=DayInput, required=False)
    place = forms.CharField(label=gettext_lazy("Shelf place"), max_length=60, required=False)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["cost"].label = _("Cost of what is left ({currency})", currency=self.studio.currency)

    def make_facts(self, material: Material, amount: int, cleaned: dict[str, Any]) -> OpeningLine:
        written = {name: cleaned[name] for name in ("opened_on", "best_before", "place")}
        return OpeningLine(material, amount, cleaned["cost"], **written)


OpeningRows = rows_of(OpeningLineForm, at_most=MOST_OPENING_LINES)
