"""The columns of a table of materials, and what headings may call them."""

from django.utils.translation import gettext_lazy

from studio.imports.kinds import ImportColumn

COLUMNS = (
    ImportColumn(
        "name",
        gettext_lazy("Material"),
        ("name", "colour", "color", "colour name", "paint", "product", "item", "article", "description",
         "material", "farbe", "farbton", "name der farbe", "artikel", "bezeichnung", "produkt"),
        gettext_lazy("The name used in Meniscus."),
        required=True,
    ),
    ImportColumn(
        "kind",
        gettext_lazy("Kind"),
        ("type", "category", "group", "art", "kategorie", "gruppe", "typ"),
        gettext_lazy(
            "Paint, medium, additive, mixed colour, surface, finish, sundry or packaging. Or as its name tells."
        ),
    ),
    ImportColumn(
        "measure",
        gettext_lazy("Measured in"),
        ("measure", "measured by", "einheit", "gemessen in", "maßeinheit", "unit", "uom"),
        gettext_lazy("Volume, mass, count, area or length. Without it, as the pack is measured."),
    ),
    ImportColumn("maker", gettext_lazy("Maker"), ("brand", "manufacturer", "marke", "hersteller")),
    ImportColumn(
        "colour", gettext_lazy("Swatch"), ("hex", "colour code", "color code", "farbcode", "swatch"),
        gettext_lazy("Such as #1f5f6b."),
    ),
    ImportColumn("density", gettext_lazy("Density"), ("density g/ml", "dichte"), gettext_lazy("In g/mL.")),
    ImportColumn(
        "water_share", gettext_lazy("Share of water"), ("share of water %", "water", "wasseranteil"),
        gettext_lazy("How much of it is added water, such as 20%."),
    ),
    ImportColumn(
        "size", gettext_lazy("Surface size"), ("dimensions", "surface", "maße", "abmessungen", "format"),
        gettext_lazy("For surfaces, height first: 30 x 40 x 2 cm."),
    ),
    ImportColumn(
        "keeps_days", gettext_lazy("Shelf life (days)"), ("shelf life", "haltbarkeit", "haltbarkeit tage"),
        gettext_lazy("Counted from opening or mixing."),
    ),
    ImportColumn(
        "reorder_level", gettext_lazy("Reorder level"),
        ("own reorder level", "minimum stock", "min stock", "meldebestand", "eigener meldebestand", "mindestbestand"),
        gettext_lazy("Such as 500 ml."),
    ),
    ImportColumn(
        "reorder_level_unit", gettext_lazy("Reorder level, unit"),
        ("own reorder level, unit", "eigener meldebestand, einheit", "meldebestand, einheit"),
    ),
    ImportColumn("notes", gettext_lazy("Notes"), ("note", "comment", "comments", "remarks", "notizen", "bemerkung")),
    ImportColumn(
        "supplier", gettext_lazy("Supplier"),
        ("shop", "bought from", "bought at", "vendor", "seller", "source", "from", "where from",
         "lieferant", "händler", "gekauft bei", "bezugsquelle"),
        gettext_lazy("Who sells the pack. A new one is added."),
    ),
    ImportColumn(
        "currency", gettext_lazy("Currency"), ("währung",),
        gettext_lazy("Of a new supplier, such as EUR. Without it, the studio's."),
    ),
    ImportColumn(
        "lead_time_days", gettext_lazy("Lead time (days)"),
        ("lead time", "delivery time", "lieferzeit", "lieferzeit tage"), gettext_lazy("Of a new supplier."),
    ),
    ImportColumn(
        "pack_size", gettext_lazy("Pack size"),
        ("pack", "size", "bottle", "bottle size", "bottle contents", "volume", "contents", "content", "ml", "amount",
         "quantity", "größe", "inhalt", "packung", "packungsgröße", "gebinde", "menge", "flasche", "gebindegröße"),
        gettext_lazy("As on the label: 500 ml."),
    ),
    ImportColumn(
        "pack_size_unit", gettext_lazy("Pack size, unit"), ("packungsgröße, einheit", "gebindegröße, einheit"),
    ),
    ImportColumn(
        "price", gettext_lazy("Pack price"),
        ("price", "price each", "paid each", "each", "cost", "unit price", "cost each", "paid", "preis", "stückpreis",
         "einzelpreis", "packungspreis", "bezahlt", "preis je stück", "preis pro stück", "ek"),
        gettext_lazy("Of one pack, in the supplier's currency."),
        is_money=True,
    ),
    ImportColumn(
        "minimum_packs", gettext_lazy("Minimum order (packs)"),
        ("minimum order", "minimum packs", "mindestabnahme", "mindestbestellmenge"),
    ),
    ImportColumn(
        "barcode", gettext_lazy("Barcode"), ("ean", "gtin", "upc", "isbn", "strichcode"),
        gettext_lazy("The 8 to 14 digits under the bars."),
    ),
    ImportColumn(
        "is_preferred", gettext_lazy("Preferred"), ("preferred supplier", "bevorzugt"), gettext_lazy("Yes or no.")
    ),
)  # fmt: skip
