"""Pieces that are offered for less than they cost, told as alerts to those who see money."""

from collections.abc import Iterator

from django.utils.translation import gettext_lazy

from costing.cost_sheets.queries import cost_summaries
from costing.pieces.calculations import SELLABLE
from costing.pieces.queries import standing_pieces
from inventory.alerts.kinds import Cause, Figures, Kind, Look, Rule, page
from studio.preferences.formatting import Formatter
from studio.translation import _


def _below_in_words(figures: Figures, formatter: Formatter) -> str:
    return _(
        "Priced at {price}, it cost {cost}: {missing} too little, before fees and tax.",
        price=formatter.money(figures["price"]),
        cost=formatter.money(figures["cost"]),
        missing=formatter.money(figures["cost"] - figures["price"]),
    )


BELOW_COST = Kind(
    "below_cost",
    gettext_lazy("Priced below cost"),
    gettext_lazy(
        "The asking price of a piece that is finished or for sale is less than its cost, with labour and overhead."
    ),
    _below_in_words,
    page("costing:piece"),
    urgency=75,
    needs_money=True,
)


def below_cost(look: Look) -> Iterator[Cause]:
    """Pieces whose asking price does not cover what they cost."""
    pieces = list(standing_pieces().filter(state__in=SELLABLE, price__isnull=False))
    costs = cost_summaries(pieces)
    for piece in pieces:
        cost, price = costs[piece.pk].whole, piece.price or 0
        if price < cost:
            figures = {"name": piece.title, "price": price, "cost": cost}
            yield Cause(BELOW_COST.code, str(piece.pk), look.on, figures)


RULE = Rule((BELOW_COST,), below_cost)
