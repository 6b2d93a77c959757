"""The columns of a table of delivery lines, and what suppliers' headings call them."""

from collections.abc import Mapping

from django.utils.translation import gettext_lazy

from studio.accounts.roles import WORKERS
from studio.imports.headings import LINES_SEARCHED, plain
from studio.imports.kinds import ImportColumn, OtherPage, TableKind
from studio.imports.reading import Sheet

# What a bottle's row says in opening stock, too.
BEST_BEFORE = ImportColumn(
    "best_before",
    gettext_lazy("Best before"),
    ("expires", "expiry", "use by", "best before date", "haltbar bis", "mindestens haltbar bis", "mhd"),
)
SHELF_PLACE = ImportColumn(
    "place",
    gettext_lazy("Shelf place"),
    ("place", "shelf", "where", "location", "platz", "regal", "lagerort"),
)
COLUMNS = (
    ImportColumn(
        "material",
        gettext_lazy("Material"),
        (
            "name", "colour", "color", "paint", "product", "item", "article", "description", "farbe", "artikel",
            "bezeichnung", "produkt",
        ),
        gettext_lazy("The name used in Meniscus."),
        required=True,
    ),
    ImportColumn(
        "pack_size",
        gettext_lazy("Pack size"),
        (
            "quantity", "size", "pack", "contents", "content", "bottle size", "volume", "inhalt", "größe", "packung",
            "packungsgröße", "gebinde",
        ),
        gettext_lazy("As on the label: 500 ml, 8 fl oz, 10 each."),
        required=True,
    ),
    ImportColumn("pack_size_unit", gettext_lazy("Pack size, unit"), ("unit", "einheit")),
    ImportColumn(
        "packs",
        gettext_lazy("Packs"),
        ("qty", "count", "number", "number of packs", "ordered", "menge", "anzahl", "stück", "stückzahl"),
        gettext_lazy("How many; leave blank for one."),
    ),
    ImportColumn(
        "price",
        gettext_lazy("Line price"),
        (
            "price", "total", "line total", "total price", "amount", "net", "sum", "preis", "gesamt", "gesamtpreis",
            "betrag", "summe",
        ),
        gettext_lazy("For all packs of the line. Or give the price of one pack."),
        is_money=True,
    ),
    ImportColumn(
        "price_each",
        gettext_lazy("Price of one pack"),
        (
            "price each", "each", "unit price", "price per unit", "price per pack", "pack price", "einzelpreis",
            "stückpreis",
        ),
        gettext_lazy("Used where the line price is blank."),
        is_money=True,
    ),
    BEST_BEFORE,
    SHELF_PLACE,
    ImportColumn(
        "batch",
        gettext_lazy("Batch"),
        ("lot", "batch number", "lot number", "charge", "chargennummer"),
        gettext_lazy("From the label."),
    ),
    ImportColumn(
        "kind",
        gettext_lazy("Kind"),
        ("type", "category", "art", "typ", "kategorie"),
        gettext_lazy("Only for new materials: paint, medium, additive, finish, sundry, packaging."),
    ),
)  # fmt: skip
DELIVERY_LINES = TableKind("delivery-lines", COLUMNS)
DELIVERY_PAGE = OtherPage(
    "inventory:delivery-file",
    gettext_lazy("Delivery from a file"),
    gettext_lazy("The lines of one invoice, with its carriage. Each becomes a lot."),
    roles=WORKERS,
    needs_money=True,
)

# A heading that means the second where another heading already names the first: "quantity" beside "size" counts packs,
# "price" beside "total" is for one pack.
_EITHER = {
    "quantity": ("pack_size", "packs"),
    "price": ("price", "price_each"),
    "preis": ("price", "price_each"),
}


def other_meanings(sheet: Sheet) -> Mapping[str, str]:
    """What headings mean because of the others on the same line."""
    names = {column.key: {plain(name) for name in column.wanted.names} - _EITHER.keys() for column in COLUMNS}
    found: dict[str, str] = {}
    for line in sheet.lines[:LINES_SEARCHED]:
        headings = {plain(cell) for cell in line.cells}
        found |= {
            heading: second
            for heading, (first, second) in _EITHER.items()
            if heading in headings and headings & names[first] and not headings & names[second]
        }
    return found
