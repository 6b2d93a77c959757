"""Writes finished pieces that were there before the books: what they are, at a stated cost, on a day.

Money is millionths of the currency unit. What the materials cost goes into the ledger, from the account that opening
stock of materials comes from. Labour and overhead are no cost of the ledger's: they stand on the piece.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from costing.locations.actions import place
from costing.locations.models import Location, Placement
from costing.pieces.actions.pieces import add_piece
from costing.pieces.actions.steps import refuse_price, take_step
from costing.pieces.calculations import State, Way
from costing.pieces.models import DESCRIPTION, Piece
from costing.pieces.queries import with_parts
from inventory.ledger.posting import LockedLedger, open_ledger
from inventory.materials.models import Material
from inventory.sessions.actions.brought_in import StatedPour, bring_in
from inventory.sessions.models import Pour, Technique
from studio.errors import InputError, refuse_all
from studio.submission import Submission
from studio.translation import _

MOST_PIECES = 60


@dataclass(frozen=True, slots=True)
class BroughtInPiece:
    """A finished piece as it stood. `cost` is that of its materials; the price includes tax. Raises InputError."""

    title: str
    surface: Material
    technique: Technique
    cost: int
    labour: int = 0
    overhead: int = 0
    price: int | None = None
    is_for_sale: bool = False
    location: Location | None = None
    description: str = ""
    size_note: str = ""
    series: str = ""
    series_number: int | None = None
    edition: str = ""
    year: int | None = None

    def __post_init__(self) -> None:
        problems = []
        if not self.title.strip():
            problems.append(InputError(_("Enter the title."), field="title"))
        for name in ("labour", "overhead"):
            if getattr(self, name) < 0:
                problems.append(InputError(_("A cost cannot be below zero."), field=name))
        if self.location is not None and self.location.is_gallery:
            advice = _(
                "Pieces go to a gallery with a consignment note. Leave this blank, then write one for “{name}”.",
                name=self.location,
            )
            problems.append(InputError(advice, field="location"))
        elif self.location is not None and not self.location.is_active:
            gone = _("“{name}” is no longer in use. Choose another location.", name=self.location)
            problems.append(InputError(gone, field="location"))
        refuse_all(problems)
        self.poured  # noqa: B018 -- checks surface and cost

    @property
    def poured(self) -> StatedPour:
        return StatedPour(self.surface, self.technique, self.cost)


def bring_in_pieces(*, pieces: Sequence[BroughtInPiece], submission: Submission) -> list[Piece]:
    """Post finished pieces as opening stock of the submission's day: all of them, or none.

    Raises InputError without a piece, or naming the line of one; ClosedPeriod.
    """
    with open_ledger(submission, facts=["finished pieces", submission.on, pieces]) as ledger:
        if ledger.earlier is not None:
            rows = Piece.objects.filter(parts__pour__session__posting=ledger.earlier)
            return list(with_parts(rows.order_by("pk")))
        if not pieces:
            raise InputError(_("Enter at least one piece."), field="lines")
        pours = bring_in(ledger, [piece.poured for piece in pieces])
        return [_piece(ledger, facts, pour) for facts, pour in zip(pieces, pours, strict=True)]


def _piece(ledger: LockedLedger, facts: BroughtInPiece, pour: Pour) -> Piece:
    submission = ledger.submission
    refuse_price(facts.price)
    piece = Piece(
        made_on=submission.on,
        state=State.FINISHED,
        price=facts.price,
        stated_labour=facts.labour,
        stated_overhead=facts.overhead,
    )
    for name in DESCRIPTION:
        setattr(piece, name, getattr(facts, name))
    add_piece(piece, [pour], submission=submission)
    if facts.is_for_sale:
        take_step(piece, State.FOR_SALE, Way.STEP, submission=submission)
    if facts.location is not None:
        place(ledger, piece, Placement(location=facts.location))
    return piece
