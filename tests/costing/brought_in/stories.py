"""Finished pieces that were there before the books began, on 1 June."""

from typing import Any

from costing.brought_in.actions import BroughtInPiece, bring_in_pieces
from costing.pieces.models import Piece
from inventory.materials.models import Material
from tests.days import june
from tests.making import make_submission, make_surface, money, the_technique

BROUGHT_IN = june(1)


def facts_of(
    title: str = "Old rope", *, cost: str = "14.00", surface: Material | None = None, **facts: Any
) -> Any:
    return BroughtInPiece(
        title=title, surface=surface or make_surface(), technique=the_technique(), cost=money(cost), **facts
    )


def brought_in(*pieces: BroughtInPiece, **submission: Any) -> list[Piece]:
    """Pieces brought in on 1 June unless said otherwise; one at 14.00 where none is named."""
    asked = make_submission(**{"on": BROUGHT_IN, **submission})
    return bring_in_pieces(pieces=pieces or [facts_of()], submission=asked)
