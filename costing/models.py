"""The price tag's tables, gathered from its rooms for Django, and what they are called in the reader's language.

The names are given to the finished models: written inside them, each would be one more thing for a migration to keep.
"""

from django.utils.translation import pgettext_lazy

from costing.pieces.models import Labour, Piece, PiecePour, PieceState, PieceStep
from costing.pricing.models import SalesChannel
from costing.selling.models import Sale

__all__ = ["Labour", "Piece", "PiecePour", "PieceState", "PieceStep", "Sale", "SalesChannel"]

# One row, and several.
TABLES = {
    Labour: (pgettext_lazy("table", "labour"), pgettext_lazy("table", "labour")),
    Piece: (pgettext_lazy("table", "piece"), pgettext_lazy("table", "pieces")),
    PiecePour: (pgettext_lazy("table", "piece pour"), pgettext_lazy("table", "piece pours")),
    PieceStep: (pgettext_lazy("table", "piece step"), pgettext_lazy("table", "piece steps")),
    Sale: (pgettext_lazy("table", "sale"), pgettext_lazy("table", "sales")),
    SalesChannel: (pgettext_lazy("table", "sales channel"), pgettext_lazy("table", "sales channels")),
}

COLUMNS = {
    Piece: {"price": pgettext_lazy("column", "price"), "photo": pgettext_lazy("column", "photo")},
    SalesChannel: {
        "name": pgettext_lazy("column", "name"),
        "commission": pgettext_lazy("column", "commission"),
        "commission_before_tax": pgettext_lazy("column", "commission on the price without tax"),
        "card_rate": pgettext_lazy("column", "card fee"),
        "fixed_fee": pgettext_lazy("column", "fixed fee"),
        "is_active": pgettext_lazy("column", "in use"),
    },
}

for table, (one, several) in TABLES.items():
    table._meta.verbose_name, table._meta.verbose_name_plural = one, several
for table, names in COLUMNS.items():
    for column in table._meta.local_fields:
        column.verbose_name = names.get(column.name, column.verbose_name)
