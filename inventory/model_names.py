"""What the shelf's tables and their columns are called on the settings pages, in the language of whoever reads.

The finished models are told. Written inside them, each name would be one more thing for a migration to keep; the
plurals that stand there are those that migrations know.
"""

from collections.abc import Iterable

from django.db import models
from django.utils.translation import pgettext_lazy

# One row, and several.
TABLES = {
    "Material": (pgettext_lazy("table", "material"), pgettext_lazy("table", "materials")),
    "Technique": (pgettext_lazy("table", "technique"), pgettext_lazy("table", "techniques")),
    "Reason": (pgettext_lazy("table", "reason"), pgettext_lazy("table", "reasons")),
    "Books": (pgettext_lazy("table", "ledger"), pgettext_lazy("table", "ledger")),
    "Posting": (pgettext_lazy("table", "posting"), pgettext_lazy("table", "postings")),
    "Entry": (pgettext_lazy("table", "entry"), pgettext_lazy("table", "entries")),
    "LotBalance": (pgettext_lazy("table", "lot balance"), pgettext_lazy("table", "lot balances")),
    "Lot": (pgettext_lazy("table", "lot"), pgettext_lazy("table", "lots")),
    "MonthEnd": (pgettext_lazy("table", "month end"), pgettext_lazy("table", "month ends")),
    "Alert": (pgettext_lazy("table", "alert"), pgettext_lazy("table", "alerts")),
    "AlertMail": (pgettext_lazy("table", "alert mail"), pgettext_lazy("table", "alert mails")),
    "Stocktake": (pgettext_lazy("table", "stocktake"), pgettext_lazy("table", "stocktakes")),
    "StocktakeLine": (pgettext_lazy("table", "stocktake line"), pgettext_lazy("table", "stocktake lines")),
    "Recipe": (pgettext_lazy("table", "recipe"), pgettext_lazy("table", "recipes")),
    "RecipeVersion": (pgettext_lazy("table", "recipe version"), pgettext_lazy("table", "recipe versions")),
    "RecipePart": (pgettext_lazy("table", "recipe part"), pgettext_lazy("table", "recipe parts")),
    "Session": (pgettext_lazy("table", "session"), pgettext_lazy("table", "sessions")),
    "Mix": (pgettext_lazy("table", "mix"), pgettext_lazy("table", "mixes")),
    "Pour": (pgettext_lazy("table", "pour"), pgettext_lazy("table", "pours")),
    "SessionPhoto": (pgettext_lazy("table", "session photo"), pgettext_lazy("table", "session photos")),
    "Supplier": (pgettext_lazy("table", "supplier"), pgettext_lazy("table", "suppliers")),
    "Supply": (pgettext_lazy("table", "supply"), pgettext_lazy("table", "supplies")),
    "Order": (pgettext_lazy("table", "order"), pgettext_lazy("table", "orders")),
    "OrderLine": (pgettext_lazy("table", "order line"), pgettext_lazy("table", "order lines")),
    "Delivery": (pgettext_lazy("table", "delivery"), pgettext_lazy("table", "deliveries")),
    "DeliveryLine": (pgettext_lazy("table", "delivery line"), pgettext_lazy("table", "delivery lines")),
}

# Columns that no settings page and no record of changes shows keep the name that Django gives them.
COLUMNS = {
    "barcode": pgettext_lazy("column", "barcode"),
    "best_before": pgettext_lazy("column", "best before"),
    "claimed_at": pgettext_lazy("column", "claimed at"),
    "cleared_at": pgettext_lazy("column", "cleared"),
    "closed_through": pgettext_lazy("column", "closed through"),
    "code": pgettext_lazy("column", "code"),
    "colour": pgettext_lazy("column", "colour"),
    "costing_method": pgettext_lazy("column", "costing method"),
    "country": pgettext_lazy("column", "country"),
    "coverage": pgettext_lazy("column", "paint per area"),
    "currency": pgettext_lazy("column", "currency"),
    "decanted_from": pgettext_lazy("column", "decanted from"),
    "density": pgettext_lazy("column", "density"),
    "depth": pgettext_lazy("column", "depth"),
    "effective_on": pgettext_lazy("column", "day"),
    "email": pgettext_lazy("column", "email"),
    "empty_weight": pgettext_lazy("column", "empty weight"),
    "fingerprint": pgettext_lazy("column", "fingerprint"),
    "free_rate": pgettext_lazy("column", "fixed unit cost"),
    "hash": pgettext_lazy("column", "seal"),
    "hazards": pgettext_lazy("column", "hazards"),
    "height": pgettext_lazy("column", "height"),
    "is_archived": pgettext_lazy("column", "archived"),
    "is_free": pgettext_lazy("column", "free, never stocked"),
    "is_preferred": pgettext_lazy("column", "preferred"),
    "is_round": pgettext_lazy("column", "round"),
    "keeps_days": pgettext_lazy("column", "shelf life in days"),
    "key": pgettext_lazy("column", "key"),
    "kind": pgettext_lazy("column", "kind"),
    "last_hash": pgettext_lazy("column", "last seal"),
    "last_number": pgettext_lazy("column", "number of the last posting"),
    "last_posting": pgettext_lazy("column", "last posting"),
    "last_recorded_at": pgettext_lazy("column", "last recorded"),
    "lead_time_days": pgettext_lazy("column", "lead time in days"),
    "lead_time_variation_days": pgettext_lazy("column", "lead-time variation (days)"),
    "level": pgettext_lazy("column", "level"),
    "line": pgettext_lazy("column", "line"),
    "lines": pgettext_lazy("column", "lines"),
    "lot": pgettext_lazy("column", "lot"),
    "mailed_at": pgettext_lazy("column", "mailed"),
    "maker": pgettext_lazy("column", "maker"),
    "makes": pgettext_lazy("column", "makes"),
    "material": pgettext_lazy("column", "material"),
    "measure": pgettext_lazy("column", "measured in"),
    "minimum_packs": pgettext_lazy("column", "minimum order (packs)"),
    "mix": pgettext_lazy("column", "mix"),
    "money": pgettext_lazy("column", "money"),
    "name": pgettext_lazy("column", "name"),
    "note": pgettext_lazy("column", "note"),
    "notes": pgettext_lazy("column", "notes"),
    "number": pgettext_lazy("column", "number"),
    "on_order": pgettext_lazy("column", "on order"),
    "opened_on": pgettext_lazy("column", "opened on"),
    "origin": pgettext_lazy("column", "origin"),
    "pack_size": pgettext_lazy("column", "pack size"),
    "place": pgettext_lazy("column", "place"),
    "outcome": pgettext_lazy("column", "outcome"),
    "posting": pgettext_lazy("column", "posting"),
    "pour": pgettext_lazy("column", "pour"),
    "previous_hash": pgettext_lazy("column", "seal before"),
    "price": pgettext_lazy("column", "price"),
    "quantity": pgettext_lazy("column", "quantity"),
    "raised_at": pgettext_lazy("column", "raised"),
    "reason": pgettext_lazy("column", "reason"),
    "received_on": pgettext_lazy("column", "received on"),
    "recorded_at": pgettext_lazy("column", "recorded"),
    "recorded_by": pgettext_lazy("column", "recorded by"),
    "reorder_level": pgettext_lazy("column", "reorder level"),
    "reverses": pgettext_lazy("column", "reverses"),
    "role": pgettext_lazy("column", "role"),
    "run_off": pgettext_lazy("column", "run-off"),
    "safety_sheet_dated": pgettext_lazy("column", "safety sheet dated"),
    "safety_stock": pgettext_lazy("column", "safety stock"),
    "sides_painted": pgettext_lazy("column", "sides painted"),
    "signal_word": pgettext_lazy("column", "signal word"),
    "source": pgettext_lazy("column", "source"),
    "stock": pgettext_lazy("column", "stock"),
    "supplier": pgettext_lazy("column", "supplier"),
    "supplier_batch": pgettext_lazy("column", "batch"),
    "water_share": pgettext_lazy("column", "share of water"),
    "width": pgettext_lazy("column", "width"),
}


def name(tables: Iterable[type[models.Model]]) -> None:
    """Tell these tables and their columns what they are called."""
    for table in tables:
        if table.__name__ in TABLES:
            table._meta.verbose_name, table._meta.verbose_name_plural = TABLES[table.__name__]
        for column in table._meta.local_fields:
            column.verbose_name = COLUMNS.get(column.name, column.verbose_name)
