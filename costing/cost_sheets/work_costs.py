"""The labour and overhead in every piece, for the page that shows what a correction changes."""

from django.urls import reverse

from costing.cost_sheets.queries import cost_summaries
from costing.pieces.queries import standing_pieces
from inventory.sessions.work_costs import WorkCost


def work_costs() -> dict[int, WorkCost]:
    """By piece, in the same few queries however many there are. One that has left counts too: its profit follows."""
    pieces = {piece.pk: piece for piece in standing_pieces()}
    return {
        pk: WorkCost(
            name=pieces[pk].title,
            where=str(pieces[pk].get_state_display()),
            address=reverse("costing:piece", args=[pk]),
            money=summary.labour + summary.overhead,
        )
        for pk, summary in cost_summaries(pieces.values()).items()
    }
