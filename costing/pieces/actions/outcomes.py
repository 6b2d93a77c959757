"""A pour's outcome and the fate of its piece agree: a ruined piece takes its pours along, and brings them back."""

from costing.errors import PieceError
from costing.pieces.calculations import RUINED, State
from costing.pieces.models import Piece, PiecePour
from inventory.sessions.actions.pours import mark_outcome
from inventory.sessions.models import Pour
from studio.translation import _


def fail_with_piece(piece: Piece) -> None:
    """Let the pours of a piece that is ruined count as failed."""
    for part in piece.parts.select_related("pour"):
        part.outcome_before = part.pour.outcome
        part.save(update_fields=["outcome_before"])
        mark_outcome(part.pour, Pour.Outcome.FAILED)


def restore_with_piece(piece: Piece) -> None:
    """Give the pours of a piece that comes back the outcome that they had."""
    for part in piece.parts.exclude(outcome_before="").select_related("pour"):
        mark_outcome(part.pour, part.outcome_before)
        part.outcome_before = ""
        part.save(update_fields=["outcome_before"])


def refuse_used_again(piece: Piece) -> None:
    """Raise PieceError when a scraped piece cannot come back: its surface was poured over, or thrown away."""
    pours = Pour.objects.filter(piece_part__piece=piece)
    above = Pour.objects.standing().filter(over__in=pours).select_related("over", "session").first()
    if above is not None:
        raise PieceError(
            _(
                "{pour} of “{title}” has been poured over, by {above}. Reverse that session first.",
                pour=above.over,
                title=piece.title,
                above=above,
            )
        )
    thrown = next((each for each in pours.with_thrown_away() if each.thrown_away_by), None)
    if thrown is not None:
        raise PieceError(
            _(
                "{pour} of “{title}” was thrown away. Reverse ledger no. {number} first.",
                pour=thrown,
                title=piece.title,
                number=thrown.thrown_away_by,
            )
        )


def piece_against(pour: Pour, outcome: str) -> str:
    """Why a pour's outcome is not amended past the fate of its piece; empty where they agree."""
    part = PiecePour.objects.filter(pour=pour).select_related("piece").first()
    if part is None:
        return ""
    facts = {"pour": pour, "title": part.piece.title, "state": State(part.piece.state).words}
    is_ruined, is_failed = part.piece.state in RUINED, outcome == Pour.Outcome.FAILED
    if is_ruined == is_failed:
        return ""
    if is_ruined:
        return _("{pour} is part of “{title}”, which is {state}. Bring the piece back first.", **facts)
    return _(
        "{pour} is part of “{title}”, which is {state}. Write the piece off, scrape it or split it instead.",
        **facts,
    )
