"""Opening stock from a table: one lot a row, each with a posting of its own, so that each can be reversed alone."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from typing import Any

from django.utils.translation import gettext_lazy

from inventory.errors import day_in_words
from inventory.ledger.imported_rows import PostedRows
from inventory.ledger.models import Books
from inventory.materials.models import Material
from inventory.purchasing.actions.deliveries import OpeningLine, open_stock
from inventory.purchasing.file_import.columns import BEST_BEFORE, SHELF_PLACE
from studio.accounts.roles import WORKERS
from studio.errors import InputError
from studio.imports.cells import Cells, folded
from studio.imports.kinds import ImportColumn, ImportKind
from studio.preferences.formatting import Formatter
from studio.preferences.models import Studio
from studio.submission import Submission
from studio.translation import _
from studio.values.allocation import divide_half_up

COLUMNS = (
    ImportColumn(
        "material",
        gettext_lazy("Material"),
        (
            "name",
            "colour",
            "color",
            "colour name",
            "paint",
            "product",
            "item",
            "article",
            "description",
            "farbe",
            "farbton",
            "name der farbe",
            "artikel",
            "bezeichnung",
            "produkt",
        ),
        gettext_lazy("The name used in Meniscus."),
        required=True,
    ),
    ImportColumn(
        "quantity",
        gettext_lazy("Amount left"),
        (
            "left",
            "amount",
            "quantity",
            "in stock",
            "stock",
            "remaining",
            "how much is left",
            "what is left",
            "still there",
            "rest",
            "menge",
            "bestand",
            "restmenge",
        ),
        gettext_lazy("Such as 350 ml."),
        required=True,
    ),
    ImportColumn("quantity_unit", gettext_lazy("Amount left, unit"), ("unit", "in stock, unit", "einheit")),
    ImportColumn(
        "cost",
        gettext_lazy("Cost of what is left"),
        ("cost", "value", "worth", "kosten", "wert", "restwert"),
        gettext_lazy("0 if it was free. Or give the pack size and the pack price."),
        is_money=True,
    ),
    ImportColumn(
        "pack_size",
        gettext_lazy("Pack size"),
        (
            "size",
            "pack",
            "bottle",
            "bottle size",
            "contents",
            "größe",
            "inhalt",
            "packung",
            "packungsgröße",
            "gebinde",
        ),
        gettext_lazy("What the full pack held."),
    ),
    ImportColumn(
        "price",
        gettext_lazy("Pack price"),
        ("price", "price each", "paid each", "paid", "each", "cost each", "preis", "einzelpreis", "bezahlt"),
        gettext_lazy("What the full pack cost."),
        is_money=True,
    ),
    ImportColumn(
        "on",
        gettext_lazy("Stock as of"),
        ("date", "day", "as of", "counted on", "datum", "stand", "tag"),
        gettext_lazy("Without it, today. Past sessions that you want to import need an earlier day."),
    ),
    ImportColumn(
        "opened_on", gettext_lazy("Opened on"), ("opened", "geöffnet", "geöffnet am", "angebrochen")
    ),
    BEST_BEFORE,
    SHELF_PLACE,
)
LONGEST_PLACE = 60


@dataclass(frozen=True, slots=True)
class OpeningRow:
    """One bottle, jar or box as it stood on a day; `key` tells it from every other row of the table."""

    line: OpeningLine
    on: date | None
    understood: str
    key: str


@dataclass(slots=True)
class OpeningReader:
    """Reads rows against the materials that there are, and knows which rows were posted before."""

    studio: Studio
    today: date
    materials: dict[str, Material] = field(default_factory=dict)
    posted: PostedRows = field(default_factory=PostedRows.read)
    closed_through: date | None = None

    def __post_init__(self) -> None:
        self.materials = {folded(each.name): each for each in Material.objects.filter(is_archived=False)}
        self.closed_through = Books.objects.values_list("closed_through", flat=True).first()

    def read(self, cells: Cells) -> OpeningRow:
        material = cells.read("material", self._material, required=_("Enter the material."))
        reading = material and cells.quantity("quantity", material.measure, density=material.density)
        if not cells["quantity"]:
            cells.note("quantity", _("Enter how much is left, such as 350 ml."))
        days = {key: cells.day(key) for key in ("on", "opened_on", "best_before")}
        self._refuse_day(cells, days["on"])
        place = cells.words("place", most=LONGEST_PLACE)
        cost = self._cost(cells, material, reading.quantity.amount if reading else 0)
        cells.refuse()
        if material is None or not reading or cost is None:
            raise InputError(_("This row cannot be read."))
        line = OpeningLine(
            material,
            reading.quantity.amount,
            cost,
            opened_on=days["opened_on"],
            best_before=days["best_before"],
            place=place,
        )
        return OpeningRow(line, days["on"], reading.echo, cells.key)

    def _material(self, name: str) -> Material:
        known = self.materials.get(folded(name))
        if known is None:
            raise InputError(
                _("“{name}” is not one of your materials. Import the materials first.", name=name[:120])
            )
        return known

    def _refuse_day(self, cells: Cells, day: date | None) -> None:
        if day is None:
            return
        if day > self.today:
            cells.note("on", _("{day} is still to come.", day=day_in_words(day)))
        elif self.closed_through and day <= self.closed_through:
            cells.note("on", _("The books are closed through {day}.", day=day_in_words(self.closed_through)))

    def _cost(self, cells: Cells, material: Material | None, left: int) -> int | None:
        """What is left cost: as it says, or the same share of the full pack's price."""
        if cells["cost"] or not cells["price"]:
            return cells.money(
                "cost", self.studio.currency, required=_("Enter what it cost, or pack size and pack price.")
            )
        price = cells.money("price", self.studio.currency)
        if cells.is_size("pack_size"):  # a surface's own: its price is for one
            cells.texts = {**cells.texts, "pack_size": "1"}
        size = material and cells.quantity("pack_size", material.measure, density=material.density)
        if not cells["pack_size"]:
            cells.note("pack_size", _("Enter what the full pack held, such as 500 ml."))
        if price is None or not size:
            return None
        return divide_half_up(price * left, size.quantity.amount)

    def is_there(self, facts: OpeningRow) -> bool:
        return self.posted.stands(facts.key)

    def words(self, facts: OpeningRow, formatter: Formatter) -> Mapping[str, str]:
        on = facts.on or self.today
        words = {"quantity": facts.understood, "quantity_unit": "", "cost": formatter.money(facts.line.money)}
        return words | {
            key: formatter.day(day)
            for key, day in (
                ("on", on),
                ("opened_on", facts.line.opened_on),
                ("best_before", facts.line.best_before),
            )
            if day
        }

    def save(self, facts: OpeningRow, submission: Submission) -> None:
        """Post it under a key of its own; one that was reversed may be posted again."""
        key = self.posted.key_for(facts.key)
        open_stock(lines=[facts.line], submission=replace(submission, on=facts.on or submission.on, key=key))

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
    reader=OpeningReader,
    example=example,
    list_url="inventory:stock",
    roles=WORKERS,
    needs_money=True,
)
