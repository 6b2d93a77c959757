"""Small stories that end in a piece: poured on 1 June, and worked on since by the owner."""

from collections.abc import Iterable, Sequence
from datetime import date
from typing import Any

import pytest

from costing.pieces.actions.pieces import PieceFacts, WorkFacts, finish_piece, make_piece, move_on
from costing.pieces.actions.together import PieceAmong, TogetherFacts, work_on_pieces
from costing.pieces.calculations import State
from costing.pieces.models import Piece
from costing.pieces.queries import pours_without_piece
from costing.pricing.models import ChannelTerms, SalesChannel
from costing.selling.models import Sale, SaleLine
from inventory.ledger import reversal_guards
from inventory.ledger.models import Entry, Posting
from inventory.materials.models import Material
from inventory.recipes.actions.mixes import MixFacts, planned
from inventory.sessions.actions.sessions import Dose, PourFacts
from inventory.sessions.models import Pour, Session
from studio.accounts.models import User
from tests.days import june
from tests.making import (
    ingredients,
    make_delivery,
    make_lot,
    make_material,
    make_pour,
    make_rates,
    make_recipe,
    make_session,
    make_submission,
    make_surface,
    make_water,
    money,
    pour_of,
    take_back,
    the_technique,
)

POURED_ON = june(1)
LATER = june(9)  # the drying time of seven days is over
PATH = [State.DRY, State.FINISHED, State.FOR_SALE, State.RESERVED]


def use_rates(*, wage: str = "12.00", overhead: str = "3.00", tax_rate: int = 0) -> None:
    """Set the studio's wage and overhead per hour, and the tax inside its prices, from the beginning."""
    make_rates(wage_per_hour=money(wage), overhead_per_hour=money(overhead), tax_rate=tax_rate)


def make_channel(
    name: str = "Lantern Quay stall", *, is_active: bool = True, **facts: int | bool
) -> SalesChannel:
    """A channel with its terms from the beginning."""
    channel = SalesChannel.objects.get_or_create(name=name, defaults={"is_active": is_active})[0]
    if facts:
        ChannelTerms.objects.update_or_create(channel=channel, holds_from=None, defaults=facts)
    return channel


def line_of(sale: Sale) -> SaleLine:
    """The one line of a sale of one piece."""
    return sale.lines.select_related("sale", "piece", "posting").get()


def a_piece(
    *,
    pours: Iterable[Pour] = (),
    title: str = "Low water",
    state: State = State.WET,
    price: str | None = None,
) -> Piece:
    """A piece in some state; of one canvas (3.50) under 200 mL of paint (2.00) unless pours are given."""
    piece = make_piece(
        facts=PieceFacts(
            title=title, pours=pours or [make_pour(on=POURED_ON)], price=money(price) if price else None
        ),
        submission=make_submission(),
    )
    return moved_to(piece, state)


def pieces_of(session: Session) -> list[Piece]:
    """A piece of each good pour of a session that is in none, as its page suggests them."""
    loose = list(pours_without_piece().filter(session=session))
    among = [PieceAmong(title=f"{session.title} {pour.number}", pour=pour) for pour in loose]
    return work_on_pieces(facts=TogetherFacts(among), submission=make_submission())


def moved_to(piece: Piece, state: State, *, on: date = LATER) -> Piece:
    """Walk a piece along the usual path to a state."""
    while piece.state != state:
        to = PATH[0] if piece.state == State.WET else PATH[PATH.index(State(piece.state)) + 1]
        move_on(piece=piece, to=to, submission=make_submission(on=on))
    return piece


def finish(
    piece: Piece,
    *amounts: tuple[Material, int],
    owner: User,
    on: date = LATER,
    key: str = "",
    anyway: bool = False,
    **facts: Any,
) -> Piece:
    return finish_piece(
        piece=piece,
        facts=WorkFacts(ingredients(*amounts), **facts),
        submission=make_submission(by=owner, on=on, key=key),
        anyway=anyway,
    )


def held_in(places: Sequence[str], pours: Sequence[Pour]) -> int:
    """What the ledger says these pours hold in these places, in millionths."""
    return sum(Entry.objects.filter(pour__in=pours, place__in=places).values_list("money", flat=True))


def ledger_cost(pours: Sequence[Pour]) -> int:
    return held_in(["work", "sold"], pours)


def poured_over(*, quantity: int = 100_000, minutes: int = 0) -> tuple[Pour, Pour]:
    """A failed pour (canvas 3.50, paint 2.00) and the one over it (paint 1.00, a day later)."""
    failed = make_pour(outcome="failed", on=POURED_ON)
    paint = make_lot(on=june(2)).material
    session = make_session(
        pours=[pour_of(material=paint, quantity=quantity, over=failed)], on=june(2), minutes=minutes
    )
    return failed, session.pours.get()


def two_ring_pours(*, minutes: int = 100, title: str = "Two lamps") -> list[Pour]:
    """Two canvases under one mixed colour: two parts paint to one of home-made medium, itself glue and water.

    Paint 10.00 a litre, glue 7.01 a litre, canvases 3.50 and 3.51; 300 mL mixed, 150 and 149 poured, the rest residue.
    """
    paint, glue, water, canvas = make_material(), make_material(), make_water(), make_surface()
    make_delivery(
        lines=[
            (paint, 1_000_000, money(10)),
            (glue, 1_000_000, money("7.01")),
            (canvas, 1_000, money("3.50")),
            (canvas, 1_000, money("3.51")),
        ],
        on=POURED_ON,
    )
    medium = make_recipe(parts=[(glue, 2), (water, 1)])
    colour = make_recipe(parts=[(paint, 2), (medium.recipe.makes, 1)])
    mixed = [
        MixFacts(version=medium, ingredients=planned(medium, 150_000)),
        MixFacts(version=colour, ingredients=planned(colour, 300_000), leftover="residue"),
    ]
    poured = [
        PourFacts(technique=the_technique(), doses=[Dose(quantity, mix=1)], surface=canvas)
        for quantity in (150_000, 149_000)
    ]
    session = make_session(mixes=mixed, pours=poured, minutes=minutes, title=title, on=POURED_ON)
    return list(session.pours.order_by("number"))


def reverse_session_of(piece: Piece) -> Posting:
    """Reverse the session of a piece, as was possible before pieces objected: older books hold such pieces."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(reversal_guards, "_guards", [])
        return take_back(piece.parts.order_by("pk")[0].pour.session.posting)
