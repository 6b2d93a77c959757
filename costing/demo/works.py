"""Pieces of the demo's year: made, dried, finished and priced."""

from collections.abc import Iterator, Sequence
from functools import partial

from costing.demo.agenda import Agenda, Hour
from costing.demo.finishing import PAIR_PRICE, TRIMS, finish_of
from costing.demo.plan import COASTERS, DIPTYCH, PlannedSession
from costing.demo.setting_up import Loft
from costing.demo.titles import PAIRS
from costing.pieces.actions.pieces import (
    PieceFacts,
    WorkFacts,
    add_labour,
    finish_piece,
    make_piece,
    move_on,
    set_price,
)
from costing.pieces.calculations import State
from costing.pieces.models import Piece
from inventory.recipes.actions.batches import make_mix
from inventory.recipes.actions.mixes import Ingredient, MixFacts, planned
from inventory.sessions.models import Pour

DRY_AFTER = 6
POUND = 1_000_000
RESIN = "Clear resin, mixed"


class Works:
    """Takes good pours to the shelf they are sold from; `for_sale` is what hangs there."""

    def __init__(self, loft: Loft, agenda: Agenda, titles: Iterator[str]) -> None:
        self.loft, self.agenda, self.titles = loft, agenda, titles
        self.pairs = iter(PAIRS)
        self.for_sale: list[Piece] = []
        self.surfaces: dict[int, str] = {}
        self.palettes: dict[int, PlannedSession] = {}

    def make(self, session: PlannedSession, pours: Sequence[Pour]) -> None:
        """One piece a pour; four coasters make a set, the two canvases of a diptych a pair."""
        if session.bout is COASTERS:
            self._make(session, pours, next(self.titles), "set of four", TRIMS[COASTERS.surfaces[0]].price)
            return
        alone = pours
        if session.bout is DIPTYCH:
            self._make(session, pours[:2], next(self.pairs), "two panels", PAIR_PRICE)
            alone = pours[2:]
        for pour in alone:
            self._make(session, [pour], next(self.titles), "", TRIMS[pour.surface.name].price)

    def surface_of(self, piece: Piece) -> str:
        return self.surfaces[piece.pk]

    def _make(
        self, session: PlannedSession, pours: Sequence[Pour], title: str, size_note: str, usual: int
    ) -> None:
        loft, days_ago = self.loft, session.days_ago
        piece = make_piece(
            facts=PieceFacts(
                title=title,
                pours=pours,
                size_note=size_note,
                description=f"{session.bout.technique}, {session.palette.name.lower()} colours.",
            ),
            submission=loft.submission(loft.who(), loft.diary.ago(days_ago)),
        )
        self.surfaces[piece.pk] = pours[0].surface.name
        self.palettes[piece.pk] = session
        finished = days_ago - loft.rng.randint(10, 14)
        shown = finished - loft.rng.randint(1, 7)
        price = max(round(usual * loft.rng.choice([0.95, 1, 1, 1.05])), 1) * POUND
        self.agenda.put(days_ago - DRY_AFTER, Hour.WORK, partial(self._dry, piece))
        self.agenda.put(finished, Hour.WORK, partial(self._finish, piece, pours))
        self.agenda.put(shown, Hour.WORK, partial(self._show, piece, price))

    def _dry(self, piece: Piece, days_ago: int) -> None:
        day = self.loft.diary.ago(days_ago)
        move_on(piece=piece, to=State.DRY, submission=self.loft.submission(self.loft.helper, day))

    def _finish(self, piece: Piece, pours: Sequence[Pour], days_ago: int) -> None:
        loft, day = self.loft, self.loft.diary.ago(days_ago)
        surface, area = self.surface_of(piece), sum(pour.area for pour in pours)
        used = [Ingredient(loft.materials[name], quantity) for name, quantity in finish_of(surface, area)]
        if used[0].material.name == RESIN:
            self._mix_resin(used[0].quantity, days_ago)
        finish_piece(
            piece=piece,
            facts=WorkFacts(
                materials=used,
                minutes=TRIMS[surface].minutes * len(pours),
                work="Resin and feet" if used[0].material.name == RESIN else "Varnish and hardware",
            ),
            submission=loft.submission(loft.who(), day),
        )

    def _mix_resin(self, quantity: int, days_ago: int) -> None:
        day, version = self.loft.diary.ago(days_ago), self.loft.versions[RESIN]
        facts = MixFacts(version, planned(version, quantity))
        make_mix(facts=facts, submission=self.loft.submission(self.loft.owner, day))

    def _show(self, piece: Piece, price: int, days_ago: int) -> None:
        """Photographed, priced and hung where it is sold."""
        loft, day = self.loft, self.loft.diary.ago(days_ago)
        loft.diary.evening(day)
        add_labour(
            piece=piece,
            work="Photograph and describe",
            minutes=5,
            submission=loft.submission(loft.owner, day),
        )
        set_price(piece=piece, price=price, submission=loft.submission(loft.owner, day))
        move_on(piece=piece, to=State.FOR_SALE, submission=loft.submission(loft.owner, day))
        self.for_sale.append(piece)
