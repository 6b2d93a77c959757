"""Opening stock from a table: one lot a row, each with a posting of its own, so that each can be reversed alone."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from fractions import Fraction
from typing import Any

from django.core.exceptions import ValidationError
from django.urls import reverse
from django.utils.translation import gettext_lazy

from inventory.ledger.imported_rows import PostedRows, refuse_day
from inventory.ledger.models import Books, Lot
from inventory.materials.file_import.kinds_of_rows import kind_of
from inventory.materials.models import Kind, Material, MeasureChoice
from inventory.materials.new_in_place import guessed_material, kind_in, save_first, size_of
from inventory.purchasing.actions.deliveries import OpeningLine, open_stock
from inventory.stock.opening_columns import COLUMNS, heading_meanings
from inventory.stock.packs_left import cost_of_packs, packs_in, times
from studio.accounts.roles import WORKERS
from studio.errors import InputError
from studio.imports.cells import Cells, folded, words_of
from studio.imports.kinds import ImportKind, Made
from studio.preferences.formatting import Formatter
from studio.preferences.models import Studio
from studio.submission import Submission
from studio.translation import _
from studio.values.allocation import divide_half_up
from studio.values.units import Measure

LONGEST_PLACE = 60


@dataclass(frozen=True, slots=True)
class OpeningRow:
    """One bottle, jar or box as it stood on a day; `key` tells it from every other row of the table."""

    line: OpeningLine
    on: date | None
    understood: Mapping[str, str]  # how its amounts and prices were read
    key: str


@dataclass(frozen=True, slots=True)
class Left:
    """How much is left; where it was counted in packs, also what a pack holds and how many there are."""

    amount: int
    pack: int = 0
    packs: Fraction | None = None


@dataclass(slots=True)
class OpeningReader:
    """Reads rows against the materials that there are, and knows which rows were posted before."""

    studio: Studio
    today: date
    may_add: bool = False
    add_new: bool = False
    materials: dict[str, Material] = field(default_factory=dict)
    new: dict[str, Material] = field(default_factory=dict)
    kinds: Mapping[str, str] = field(default_factory=lambda: words_of(Kind))
    posted: PostedRows = field(default_factory=PostedRows.read)
    closed_through: date | None = None

    def __post_init__(self) -> None:
        self.materials = {folded(each.name): each for each in Material.objects.filter(is_archived=False)}
        self.closed_through = Books.objects.values_list("closed_through", flat=True).first()

    def read(self, cells: Cells) -> OpeningRow:
        material = cells.read(
            "material", lambda name: self._material(name, cells), required=_("Enter the material.")
        )
        understood = {"kind": cells["kind"]} if cells.new else {}
        left = self._left(cells, material, understood)
        days = {key: cells.day(key) for key in ("on", "opened_on", "best_before")}
        refuse_day(cells, days["on"], today=self.today, closed_through=self.closed_through)
        place = cells.words("place", most=LONGEST_PLACE)
        cost = self._cost(cells, material, left, understood)
        cells.refuse()
        if material is None or not left or cost is None:
            raise InputError(_("This row cannot be read."))
        line = OpeningLine(
            material,
            left.amount,
            cost,
            opened_on=days["opened_on"],
            best_before=days["best_before"],
            place=place,
        )
        return OpeningRow(line, days["on"], understood, cells.key)

    def _left(self, cells: Cells, material: Material | None, understood: dict[str, str]) -> Left | None:
        """How much is left: as it says, or so many times the pack size. How it was read is `understood` besides."""
        if not cells["quantity"] and not cells["packs"]:
            cells.note("quantity", _("Enter how much is left, such as 350 ml."))
        elif cells["quantity"] and cells["packs"]:
            cells.note("packs", _("Enter how much is left either as an amount or in packs."))
        elif packs := packs_in(cells):
            size = material and self._pack_size(cells, material, understood)
            if material is None or not size:
                return None
            amount = times(packs, size)
            understood |= {
                "quantity": cells.days.quantity(amount, material.measure),
                "packs": "" if not cells["packs"] else cells["packs"],
            }
            return Left(amount, size, packs)
        elif cells["quantity"]:
            reading = material and cells.quantity("quantity", material.measure, density=material.density)
            if material is not None and reading:
                understood |= {"quantity": reading.echo, "quantity_unit": ""}
                return Left(reading.quantity.amount)
        return None

    def _pack_size(self, cells: Cells, material: Material, understood: dict[str, str]) -> int | None:
        """What a full pack held; one for a surface whose own size stands there."""
        if cells.is_size("pack_size") or (not cells["pack_size"] and material.measure == Measure.COUNT):
            cells.texts = {**cells.texts, "pack_size": "1"}
        size = cells.quantity("pack_size", material.measure, density=material.density)
        if not cells["pack_size"]:
            cells.note("pack_size", _("Enter what the full pack held, such as 500 ml."))
        if not size:
            return None
        understood["pack_size"] = size.echo
        return size.quantity.amount

    def _material(self, name: str, cells: Cells) -> Material:
        """The material of that name: one that there is, or a new one that is not saved yet. Raises InputError."""
        known = self.materials.get(folded(name))
        if known is not None:
            return known
        if not self.may_add:
            raise InputError(
                _("“{name}” is not one of your materials. Import the materials first.", name=name[:120])
            )
        material = self.new.get(folded(name)) or self._guessed(name, cells)
        self.new[folded(name)] = material
        size = size_of(material)
        more = cells.days.size(size) if size else MeasureChoice(material.measure).label
        cells.new = name
        cells.texts = {**cells.texts, "kind": f"{Kind(material.kind).label} · {more}"}
        if not self.add_new:
            raise InputError(
                _(
                    "“{name}” is not one of your materials yet. Let what is new be added, or correct its name.",
                    name=name[:120],
                )
            )
        return material

    def _guessed(self, name: str, cells: Cells) -> Material:
        """A new material by its row: what it is called, how it is measured, and its kind where that is given."""
        size = cells.size("pack_size") if cells.is_size("pack_size") else None
        kind = kind_of(cells, self.kinds) or (Kind.SURFACE if size else kind_in(name))
        material = guessed_material(name, kind or "", self._measure(cells, kind), cells.numbers, size)
        material.maker = cells.words("maker", most=120)
        try:
            material.clean_fields()
        except ValidationError as problem:
            raise InputError(" ".join(problem.messages)) from None
        return material

    def _measure(self, cells: Cells, kind: str | None) -> Measure:
        """As what is left is measured, or else the pack; what is counted may be a bare number. Raises InputError."""
        if kind == Kind.SURFACE:
            return Measure.COUNT
        in_packs = bool(cells["pack_size"]) and packs_in(cells.beside()) is not None
        for key in ("pack_size",) if in_packs else ("quantity", "pack_size"):
            if reading := cells.beside().quantity(key):
                return reading.quantity.measure
        if kind in (Kind.SUNDRY, Kind.PACKAGING):
            return Measure.COUNT
        raise InputError(_("It is new: enter how much is left with its unit, such as 350 ml."))

    def _cost(
        self, cells: Cells, material: Material | None, left: Left | None, understood: dict[str, str]
    ) -> int | None:
        """What is left cost: as it says, or the same share of the full pack's price, which is `understood` besides."""
        if cells["cost"] or not cells["price"]:
            return cells.money(
                "cost", self.studio.currency, required=_("Enter what it cost, or pack size and pack price.")
            )
        price = cells.money("price", self.studio.currency)
        if material is None or price is None or left is None:
            return None
        size = left.pack or self._pack_size(cells, material, understood)
        if not size:
            return None
        understood["price"] = cells.days.money(price)
        if left.packs is not None:
            return cost_of_packs(left.packs, price, self.studio.currency)
        return divide_half_up(price * left.amount, size)

    def is_there(self, facts: OpeningRow) -> bool:
        return self.posted.stands(facts.key)

    def words(self, facts: OpeningRow, formatter: Formatter) -> Mapping[str, str]:
        on = facts.on or self.today
        words = {**facts.understood, "cost": formatter.money(facts.line.money)}
        return words | {
            key: formatter.day(day)
            for key, day in (
                ("on", on),
                ("opened_on", facts.line.opened_on),
                ("best_before", facts.line.best_before),
            )
            if day
        }

    def save(self, facts: OpeningRow, submission: Submission) -> Made:
        """Post it under a key of its own, and tell its lot's number; one that was reversed may be posted again."""
        material, key = facts.line.material, self.posted.key_for(facts.key)
        on_its_day = replace(submission, on=facts.on or submission.on, key=key)
        posting = save_first(
            [material], lambda: open_stock(lines=[facts.line], submission=on_its_day), submission
        )
        lot = Lot.objects.get(entries__posting=posting)
        return f"{lot.label} {facts.line.material.name}", reverse("inventory:lot", args=[lot.pk])

    def keep(self, facts: OpeningRow) -> None:
        self.posted.keep(facts.key)


def example(studio: Studio) -> Sequence[Mapping[str, Any]]:
    """A shelf of the net loft."""
    return [
        {"material": "Sail Loft White", "quantity": "350 ml", "cost": 6_650_000, "opened_on": date(2026, 5, 2),
         "place": "Window shelf"},
        {"material": "Lantern Amber", "quantity": "6 fl oz", "pack_size": "8 fl oz", "price": 9_400_000,
         "best_before": date(2028, 9, 30), "place": "Window shelf"},
        {"material": "Round board 20 cm", "quantity": "7 each", "cost": 24_430_000, "place": "Loft"},
    ]  # fmt: skip


OPENING_STOCK = ImportKind(
    code="opening-stock",
    title=gettext_lazy("Opening stock from a file"),
    lead=gettext_lazy("What you already have, and what it cost. Each row becomes a lot."),
    columns=COLUMNS,
    meanings=heading_meanings,
    reader=OpeningReader,
    example=example,
    list_url="inventory:stock",
    made_heading=gettext_lazy("Write these numbers on the bottles"),
    can_add=True,
    roles=WORKERS,
    needs_money=True,
)
