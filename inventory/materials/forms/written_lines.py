"""Lines pasted or typed as text, read into the rows of a form: nothing is saved until she has seen them."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpRequest, QueryDict
from django.utils.translation import gettext_lazy

from inventory.materials.models import Material
from inventory.materials.new_in_place import find_named, guessed_kind
from inventory.materials.written_facts import (
    LONGEST_LINE,
    MOST_WRITTEN,
    ONE_PIECE,
    Doubt,
    PriceIs,
    WrittenLine,
)
from studio.errors import InputError
from studio.pages.forms import StudioForm
from studio.pages.formsets import typed_rows
from studio.translation import _, quoted
from studio.values.allocation import allocate
from studio.values.money import code_of_sign, minor_unit, money_input_text, read_money

READ = "read"  # what the button that reads the lines sends as "do"


class WrittenLinesForm(StudioForm):
    """The text, and what a price is for where a line with several packs does not say."""

    use_required_attribute = False  # it is sent with the form around it, which is saved without any text here

    lines = forms.CharField(
        label=gettext_lazy("Lines as you would write them"),
        max_length=MOST_WRITTEN * LONGEST_LINE,
        widget=forms.Textarea(attrs={"rows": 5}),
        help_text=gettext_lazy(
            "One line for each, such as pasted from an email. They are put into rows for you to check."
        ),
    )
    prices_are = forms.ChoiceField(
        label=gettext_lazy("If a line has several packs, its price is"),
        choices=[
            (PriceIs.EACH.value, gettext_lazy("for one pack")),
            (PriceIs.TOTAL.value, gettext_lazy("for the line")),
        ],
        required=False,
        widget=forms.RadioSelect,
    )

    def __init__(self, *args: Any, currency: str, **kwargs: Any) -> None:
        super().__init__(*args, prefix="written", **kwargs)
        self.currency = currency  # that the rows are read in
        small, large = self.formatter.money(7_200_000), self.formatter.money(12_500_000)
        self.fields["lines"].widget.attrs["placeholder"] = (
            f"Sail Loft White 500 ml {small} x2\nSail Loft White 1 l = {large}"
        )
        self.goods: list[WrittenLine] = []
        self.extras: list[WrittenLine] = []
        self.carried: list[WrittenLine] = []  # of those, what was put into Carriage

    def clean(self) -> dict[str, Any]:
        from inventory.materials.written_lines import read_lines  # slow to import

        cleaned = super().clean() or self.cleaned_data
        read = list(read_lines(cleaned.get("lines", "")))
        if len(read) > MOST_WRITTEN:
            self.add_error("lines", _("Enter at most {n} lines at once.", n=MOST_WRITTEN))
        self.goods = [line for line in read if not line.is_extra]
        self.extras = [line for line in read if line.is_extra]
        unclear = [line.text for line in self.goods if Doubt.EACH_OR_TOTAL in line.doubts]
        if unclear and not cleaned.get("prices_are"):
            self.add_error("prices_are", _("Choose what the price is for: {lines}", lines=_quoted(unclear)))
        if foreign := [line.text for line in read if self._is_foreign(line.sign)]:
            self.add_error("lines", self._about_foreign(_quoted(foreign)))
        return cleaned

    def _is_foreign(self, sign: str) -> bool:
        return bool(sign) and self.currency not in (sign, code_of_sign(sign, self.currency))

    def _about_foreign(self, lines: str) -> str:
        if self.currency == self.studio.currency:
            return _(
                "These prices are not in {currency}: {lines} For a delivery, enter their currency and its rate under "
                "Invoice in another currency first. Otherwise write what they cost you in {currency}.",
                currency=self.currency,
                lines=lines,
            )
        return _(
            "These prices are not in {currency}, the currency of this invoice: {lines}",
            currency=self.currency,
            lines=lines,
        )

    def is_for_one(self, line: WrittenLine) -> bool:
        """Whether its price is for one pack."""
        price_is = self.cleaned_data["prices_are"] if Doubt.EACH_OR_TOTAL in line.doubts else line.price_is
        return bool(price_is == PriceIs.EACH)


def _quoted(lines: list[str]) -> str:
    return " · ".join(quoted(text[:60]) for text in lines[:3])


@dataclass(frozen=True, slots=True)
class WrittenRows:
    """Turns what was written into first values for rows, against the materials on offer; prices in `currency`."""

    form: WrittenLinesForm
    materials: Mapping[int, Material]
    currency: str
    may_add: bool

    def of_delivery(self) -> list[dict[str, Any]]:
        """So many packs of a size, and what they cost together."""
        return [
            self._material(line)
            | {"pack": line.amount, "packs": line.packs, "price": self._price_of_all(line)}
            for line in self.form.goods
        ]

    def of_opening_stock(self) -> list[dict[str, Any]]:
        """A row for each bottle, jar or box, with its own share of the price; boards that come singly share a row."""
        rows = []
        for line in self.form.goods:
            if line.is_singly:
                amount = ONE_PIECE.replace("1", str(line.packs), 1)
                rows.append(self._material(line) | {"quantity": amount, "cost": self._price_of_all(line)})
                continue
            for share in self._shares(line):
                rows.append(self._material(line) | {"quantity": line.amount, "cost": share})
        return rows

    def carriage(self) -> str:
        """What was paid for the way, as it is typed; blank where no line says it, or one cannot be read."""
        lines = [line for line in self.form.extras if line.is_carriage and line.price]
        prices = [self._price(line) for line in lines]
        return self._money(sum(filter(None, prices))) if all(prices) and lines else ""

    def put_into_carriage(self) -> None:
        """Say so of these lines, instead of that they were left out."""
        self.form.carried = [line for line in self.form.extras if line.is_carriage and line.price]
        self.form.extras = [line for line in self.form.extras if line not in self.form.carried]

    def _price_of_all(self, line: WrittenLine) -> str:
        price = self._price(line)
        if price is not None and self.form.is_for_one(line):
            price *= line.packs
        return self._money(price) or line.price

    def _shares(self, line: WrittenLine) -> list[str]:
        price = self._price(line)
        if price is None:
            return [line.price] * line.packs
        if self.form.is_for_one(line):
            return [self._money(price)] * line.packs
        unit = minor_unit(self.currency)
        whole, left_over = divmod(price, unit)
        shares = [share * unit for share in allocate(whole, [1] * line.packs)]
        shares[0] += left_over
        return [self._money(share) for share in shares]

    def _price(self, line: WrittenLine) -> int | None:
        """In millionths; None where there is none, or none in that currency: then it is shown as written."""
        try:
            comma = self.form.formatter.decimal_comma
            return read_money(line.price, self.currency, decimal_comma=comma) if line.price else None
        except InputError:
            return None

    def _money(self, amount: int | None) -> str:
        comma = self.form.formatter.decimal_comma
        return "" if amount is None else money_input_text(amount, self.currency, decimal_comma=comma)

    def _material(self, line: WrittenLine) -> dict[str, Any]:
        known = find_named(line.name, self.materials.values())
        if known is not None or not self.may_add:
            return {"material": known.pk if known else "", "written": line.text}
        try:
            kind = guessed_kind(line.name, self.form.formatter.read(line.amount).quantity.measure).value
        except InputError:
            kind = ""
        return {"material": "", "new_name": line.name[:120], "new_kind": kind, "written": line.text}


def must_read(data: QueryDict) -> bool:
    """Whether lines are to be put into rows: by their button, or because they still wait when she saves."""
    return data.get("do") == READ or bool(data.get("written-lines", "").strip())


def rows_so_far(
    request: HttpRequest,
    written: StudioForm,
    read: Callable[[], list[dict[str, Any]]],
    *,
    prefix: str = "lines",
    at_most: int,
    untouched: Mapping[str, str],
) -> list[dict[str, Any]]:
    """The rows that were typed into already and not removed, and below them those that are read from the text.

    Where they are more than fit, none is read, and the text stays with the reason.
    """
    typed = [
        row
        for row in typed_rows(request.POST, prefix, at_most=at_most)
        if not row.get("DELETE") and any(text and untouched.get(name) != text for name, text in row.items())
    ]
    more = read() if written.is_valid() else []
    if len(typed) + len(more) <= at_most:
        if more:
            messages.info(request, _("Your lines have been put into rows. Check them, then save."))
            written.data = {**written.data, written.add_prefix("lines"): ""}  # they are read once
        return [*typed, *more]
    advice = _(
        "These lines make {n} rows, and one page has room for at most {most}. Read fewer at once.",
        n=len(typed) + len(more),
        most=at_most,
    )
    written.add_error("lines", advice)
    return typed
