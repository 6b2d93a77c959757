"""The columns of a table of opening stock, and what headings mean because of what stands around them."""

import re
from collections.abc import Mapping, Sequence

from django.utils.translation import gettext_lazy

from inventory.purchasing.file_import.columns import BEST_BEFORE, SHELF_PLACE
from inventory.stock.packs_left import PACK_HEADINGS, PACK_PRICES, is_pack_word
from studio.imports.headings import LINES_SEARCHED, bracket_in, plain
from studio.imports.kinds import ImportColumn
from studio.imports.reading import Line

COLUMNS = (
    ImportColumn(
        "material",
        gettext_lazy("Material"),
        (
            "name",
            "what",
            "was",
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
        "kind",
        gettext_lazy("Kind"),
        ("type", "category", "group", "art", "kategorie", "gruppe", "typ"),
        gettext_lazy("Of a material that is new. Without it, as its name tells."),
    ),
    ImportColumn(
        "maker",
        gettext_lazy("Maker"),
        (
            "brand",
            "manufacturer",
            "supplier",
            "shop",
            "marke",
            "hersteller",
            "lieferant",
            "laden",
            "hersteller laden",
            "hersteller lieferant",
        ),
        gettext_lazy("Of a material that is new."),
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
            "stand",
        ),
        gettext_lazy("Such as 350 ml. Or give the packs that are left, and the pack size."),
        required=True,
        instead="packs",
    ),
    ImportColumn("quantity_unit", gettext_lazy("Amount left, unit"), ("unit", "in stock, unit", "einheit")),
    ImportColumn(
        "packs",
        gettext_lazy("Packs left"),
        PACK_HEADINGS,
        gettext_lazy("How many bottles, jars or boxes of the pack size: 2, or 1/2 for half a bottle."),
    ),
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
        (
            "price",
            "price each",
            "paid each",
            "paid",
            "each",
            "cost each",
            "preis",
            "einzelpreis",
            "bezahlt",
            *PACK_PRICES,
        ),
        gettext_lazy("What the full pack cost."),
        is_money=True,
    ),
    ImportColumn(
        "on",
        gettext_lazy("Stock as of"),
        (
            "date",
            "day",
            "as of",
            "counted on",
            "datum",
            "stand",
            "stand vom",
            "bestand vom",
            "bestand am",
            "gezählt am",
            "inventur am",
            "tag",
        ),
        gettext_lazy(
            "Without it, today. Past sessions that you want to import need an earlier day. The day on which you bought "
            "it is not kept."
        ),
        is_day=True,
    ),
    ImportColumn(
        "opened_on", gettext_lazy("Opened on"), ("opened", "geöffnet", "geöffnet am", "angebrochen")
    ),
    BEST_BEFORE,
    SHELF_PLACE,
)

_NUMBER = re.compile(r"[0-9]{1,2}(?:[.,][0-9]{1,2})?|[½¼¾]|[0-9] ?/ ?[0-9]")
_AMOUNT = next(column for column in COLUMNS if column.key == "quantity")
_SIZE = next(column for column in COLUMNS if column.key == "pack_size")
_MADE_OF_PACKS = {"noch da", "ubrig", "vorhanden", "on hand", "have", "rest", "left", "remaining"}


def heading_meanings(lines: Sequence[Line]) -> Mapping[str, str]:
    """Headings of an amount that count packs: "Left (bottles)", "bottles left", or "left" over 1, 0.5 and 2 alone."""
    amounts = {plain(name) for name in _AMOUNT.wanted.names} | _MADE_OF_PACKS
    sizes = {plain(name) for name in _SIZE.wanted.names}
    found: dict[str, str] = {}
    for number, line in enumerate(lines[:LINES_SEARCHED], start=1):
        headings = [plain(cell) for cell in line.cells]
        if not sizes.intersection(headings):
            continue
        for place, cell in enumerate(line.cells):
            if _counts_packs(cell, amounts, _below(lines[number:], place)):
                found[plain(cell)] = "packs"
    return found


def _counts_packs(heading: str, amounts: set[str], cells: Sequence[str]) -> bool:
    name, bracket = plain(heading), bracket_in(heading)
    without = " ".join(word for word in name.split() if not is_pack_word(word))
    if without != name and without in amounts:
        return True
    if name not in amounts:
        return False
    if bracket:
        return is_pack_word(bracket)
    return bool(cells) and all(_NUMBER.fullmatch(cell) for cell in cells)


def _below(lines: Sequence[Line], place: int) -> list[str]:
    return [line.cells[place] for line in lines if place < len(line.cells) and line.cells[place]]
