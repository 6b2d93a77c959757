"""Pieces that are offered for less than they cost, told as alerts to those who see money."""

from collections.abc import Iterator

from django.utils.translation import gettext_lazy

from costing.pieces.calculations import SELLABLE
from costing.pieces.queries import standing_pieces
from costing.pricing.to_cover import costs_to_cover
from inventory.alerts.kinds import Cause, Figures, Kind, Look, Rule, page
from studio.preferences.formatting import Formatter
from studio.translation import _


def _below_in_words(figures: Figures, formatter: Formatter) -> str:
    packing = figures.get("packing", 0)
    words = {
        "price": formatter.money(figures["price"]),
        "cost": formatter.money(figures["cost"]),
        "missing": formatter.money(figures["cost"] + packing - figures["price"]),
    }
    if packing:
        return _(
            "Priced at {price}, it cost {cost} and packing will take about {packing}: {missing} too little, "
            "before fees and tax.",
            packing=formatter.money(packing),
            **words,
        )
    return _("Priced at {price}, it cost {cost}: {missing} too little, before fees and tax.", **words)


BELOW_COST = Kind(
    "below_cost",
    gettext_lazy("Priced below cost"),
    gettext_lazy(
        "The asking price of a piece that is finished or for sale is less than its cost, with labour, overhead and "
        "the packing to come."
    ),
    _below_in_words,
    page("costing:piece"),
    urgency=75,
    needs_money=True,
)


def below_cost(look: Look) -> Iterator[Cause]:
    """Pieces whose asking price does not cover what they cost and the packing to come."""
    pieces = list(standing_pieces().filter(state__in=SELLABLE, price__isnull=False))
    covered = costs_to_cover(pieces)
    for piece in pieces:
        to_cover, price = covered[piece.pk], piece.price or 0
        if price < to_cover.whole:
            figures = {"name": piece.title, "price": price, "cost": to_cover.cost.whole}
            if to_cover.packing_money:
                figures["packing"] = to_cover.packing_money
            yield Cause(BELOW_COST.code, str(piece.pk), look.on, figures)


RULE = Rule((BELOW_COST,), below_cost)
