"""What the tables of the change log and their columns are called, in the language of whoever reads.

The finished models are told. Written inside them, each name would be one more thing for a migration to keep.
"""

from collections.abc import Iterable

from django.db import models
from django.utils.translation import pgettext_lazy

TABLES = {
    "Material": pgettext_lazy("table", "material"),
    "Technique": pgettext_lazy("table", "technique"),
    "Flaw": pgettext_lazy("table", "flaw"),
    "Reason": pgettext_lazy("table", "reason"),
    "Books": pgettext_lazy("table", "ledger"),
    "Lot": pgettext_lazy("table", "lot"),
    "Recipe": pgettext_lazy("table", "recipe"),
    "Ratio": pgettext_lazy("table", "ratio"),
    "Mix": pgettext_lazy("table", "mix"),
    "Order": pgettext_lazy("table", "order"),
    "Plan": pgettext_lazy("table", "plan"),
    "Session": pgettext_lazy("table", "session"),
    "Pour": pgettext_lazy("table", "pour"),
    "Supplier": pgettext_lazy("table", "supplier"),
    "Supply": pgettext_lazy("table", "supply"),
}

COLUMNS = {
    "address": pgettext_lazy("column", "address"),
    "barcode": pgettext_lazy("column", "barcode"),
    "best_before": pgettext_lazy("column", "best before"),
    "basis": pgettext_lazy("column", "parts measured"),
    "by_ratio": pgettext_lazy("column", "came of a ratio"),
    "carriage": pgettext_lazy("column", "carriage"),
    "closed_through": pgettext_lazy("column", "closed through"),
    "code": pgettext_lazy("column", "code"),
    "colour": pgettext_lazy("column", "colour"),
    "costing_method": pgettext_lazy("column", "costing method"),
    "country": pgettext_lazy("column", "country"),
    "coverage": pgettext_lazy("column", "paint per area"),
    "currency": pgettext_lazy("column", "currency"),
    "customer_number": pgettext_lazy("column", "customer number"),
    "number": pgettext_lazy("column", "number"),
    "deliver_to": pgettext_lazy("column", "deliver to"),
    "density": pgettext_lazy("column", "density"),
    "depth": pgettext_lazy("column", "depth"),
    "email": pgettext_lazy("column", "email"),
    "empty_weight": pgettext_lazy("column", "empty weight"),
    "expected_on": pgettext_lazy("column", "expected"),
    "extra_paint": pgettext_lazy("column", "extra paint"),
    "exchange_rate": pgettext_lazy("column", "exchange rate"),
    "free_carriage_from": pgettext_lazy("column", "free carriage from"),
    "free_rate": pgettext_lazy("column", "fixed unit cost"),
    "guessed_use": pgettext_lazy("column", "expected use in 30 days"),
    "hazards": pgettext_lazy("column", "hazards"),
    "height": pgettext_lazy("column", "height"),
    "include_expired": pgettext_lazy("column", "expired stock included"),
    "is_archived": pgettext_lazy("column", "archived"),
    "is_closed": pgettext_lazy("column", "closed"),
    "is_favourite": pgettext_lazy("column", "favourite"),
    "is_free": pgettext_lazy("column", "free, never stocked"),
    "is_preferred": pgettext_lazy("column", "preferred"),
    "is_vital": pgettext_lazy("column", "vital"),
    "is_round": pgettext_lazy("column", "round"),
    "keeps_days": pgettext_lazy("column", "shelf life in days"),
    "kind": pgettext_lazy("column", "kind"),
    "lead_time_days": pgettext_lazy("column", "lead time in days"),
    "lead_time_variation_days": pgettext_lazy("column", "lead-time variation (days)"),
    "maker": pgettext_lazy("column", "maker"),
    "learn_from": pgettext_lazy("column", "learn from pours since"),
    "makes": pgettext_lazy("column", "makes"),
    "material": pgettext_lazy("column", "material"),
    "measure": pgettext_lazy("column", "measured in"),
    "minimum_order": pgettext_lazy("column", "minimum order value"),
    "minimum_packs": pgettext_lazy("column", "minimum order (packs)"),
    "name": pgettext_lazy("column", "name"),
    "notes": pgettext_lazy("column", "notes"),
    "ordered_on": pgettext_lazy("column", "ordered"),
    "opened_on": pgettext_lazy("column", "opened on"),
    "pack_size": pgettext_lazy("column", "pack size"),
    "place": pgettext_lazy("column", "place"),
    "outcome": pgettext_lazy("column", "outcome"),
    "planned_cost": pgettext_lazy("column", "planned cost"),
    "planned_on": pgettext_lazy("column", "day"),
    "planned_paint": pgettext_lazy("column", "planned paint"),
    "recorded_by": pgettext_lazy("column", "recorded by"),
    "key": pgettext_lazy("column", "key"),
    "fingerprint": pgettext_lazy("column", "fingerprint"),
    "price": pgettext_lazy("column", "price"),
    "reference": pgettext_lazy("column", "supplier's reference"),
    "reorder_level": pgettext_lazy("column", "reorder level"),
    "rest_cancelled": pgettext_lazy("column", "closed without the rest"),
    "run_off": pgettext_lazy("column", "run-off"),
    "safety_sheet_dated": pgettext_lazy("column", "safety sheet dated"),
    "safety_stock": pgettext_lazy("column", "safety stock"),
    "sent_by": pgettext_lazy("column", "sent how"),
    "sent_on": pgettext_lazy("column", "sent"),
    "service_level": pgettext_lazy("column", "service level"),
    "session": pgettext_lazy("column", "session"),
    "sides_painted": pgettext_lazy("column", "sides painted"),
    "set_name": pgettext_lazy("column", "name as a set"),
    "signal_word": pgettext_lazy("column", "signal word"),
    "source": pgettext_lazy("column", "source"),
    "storage_limit": pgettext_lazy("column", "storage limit"),
    "supplier": pgettext_lazy("column", "supplier"),
    "supplier_batch": pgettext_lazy("column", "batch"),
    "water_share": pgettext_lazy("column", "share of water"),
    "width": pgettext_lazy("column", "width"),
}


def name(tables: Iterable[type[models.Model]]) -> None:
    """Tell these tables and their columns what they are called."""
    for table in tables:
        if table.__name__ in TABLES:
            table._meta.verbose_name = TABLES[table.__name__]
        for column in table._meta.local_fields:
            column.verbose_name = COLUMNS.get(column.name, column.verbose_name)
