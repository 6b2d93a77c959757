"""Columns that every table of pieces may have, and what they mean."""

from typing import Any

from django.utils.translation import gettext_lazy

from costing.pieces.calculations import State
from studio.imports.kinds import ImportColumn

TITLE = ImportColumn(
    "title",
    gettext_lazy("Title"),
    ("piece", "name", "name of the piece", "work", "painting", "titel", "werk", "bild", "stück"),
    gettext_lazy("A title that no other piece has."),
    required=True,
)
PRICE = ImportColumn(
    "price",
    gettext_lazy("Price"),
    ("asking price", "list price", "preis", "verkaufspreis", "vk"),
    gettext_lazy("What you ask, tax included."),
    is_money=True,
)


def state_column(help_text: Any) -> ImportColumn:
    """The status, which `help_text` explains."""
    return ImportColumn(
        "state", gettext_lazy("Status"), ("state", "status", "zustand", "verkauft", "sold"), help_text
    )


def usual_state(price: int | None) -> State:
    """The status where the table names none: for sale with a price, and finished without one."""
    return State.FOR_SALE if price is not None else State.FINISHED
