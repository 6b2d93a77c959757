"""Work on a piece: finishing, packing and minutes, each charged once and only while the piece is here."""

from dataclasses import replace
from datetime import datetime
from typing import Any

import pytest
from django.db import IntegrityError, transaction

from costing.errors import PieceError, StillDrying
from costing.pieces import queries
from costing.pieces.actions import pieces
from costing.pieces.calculations import State
from costing.pieces.models import Labour, Piece
from costing.selling import actions as disposals
from inventory.errors import KeyReused, NotEnough
from inventory.ledger.models import Entry, Posting
from inventory.materials.models import Kind, Material, MeasureChoice
from studio.accounts.models import User
from studio.preferences.models import Studio
from tests.costing.stories import LATER, a_piece, finish, held_in, use_rates
from tests.days import june
from tests.making import (
    ingredients,
    make_delivery,
    make_lot,
    make_material,
    make_session,
    make_submission,
    make_surface,
    money,
    pour_of,
    the_reason,
)

pytestmark = pytest.mark.django_db


def test_finishing_charges_varnish_and_minutes_and_moves_the_piece_on(owner: User, varnish: Material) -> None:
    use_rates()
    piece = finish(a_piece(state=State.DRY), (varnish, 20_000), owner=owner, minutes=15, work="Two coats")
    assert piece.state == State.FINISHED
    assert Entry.objects.get(place="work", role="finish").money == money(1)
    labour = Labour.objects.get()
    assert (labour.work, labour.minutes, labour.on) == ("Two coats", 15, LATER)


def test_a_further_coat_leaves_the_state_as_it_is(owner: User, varnish: Material) -> None:
    piece = finish(a_piece(state=State.FOR_SALE), (varnish, 20_000), owner=owner)
    assert piece.state == State.FOR_SALE
    assert held_in(["work"], queries.pours_of(piece)) == money("6.50")


def test_the_same_finishing_sent_twice_is_posted_once(owner: User, varnish: Material) -> None:
    use_rates()
    piece = a_piece(state=State.DRY)
    for _ in range(2):
        finish(piece, (varnish, 20_000), owner=owner, minutes=15, key="form-1")
    assert (Labour.objects.count(), Posting.objects.filter(kind="finishing").count()) == (1, 1)
    with pytest.raises(KeyReused):
        finish(piece, (varnish, 30_000), owner=owner, minutes=15, key="form-1")


def test_a_finishing_sent_again_with_other_minutes_is_refused(owner: User, varnish: Material) -> None:
    piece = a_piece(state=State.DRY)
    finish(piece, (varnish, 20_000), owner=owner, minutes=15, key="form-1")
    with pytest.raises(KeyReused):
        finish(piece, (varnish, 20_000), owner=owner, minutes=45, key="form-1")
    assert Labour.objects.get().minutes == 15


def test_nothing_is_half_done_when_the_shelf_holds_too_little_varnish(owner: User, varnish: Material) -> None:
    piece = a_piece(state=State.DRY)
    with pytest.raises(NotEnough):
        finish(piece, (varnish, 200_000), owner=owner, minutes=15)
    assert (Piece.objects.get(pk=piece.pk).state, Labour.objects.count()) == ("dry", 0)


def test_it_refuses_to_varnish_early_a_wet_piece_or_nothing_on_a_finished_one(
    owner: User, varnish: Material
) -> None:
    with pytest.raises(StillDrying):
        finish(a_piece(state=State.DRY), (varnish, 20_000), owner=owner, on=june(3))
    with pytest.raises(PieceError, match="is wet, so it cannot be finished now"):
        finish(a_piece(title="Ebb"), (varnish, 20_000), owner=owner)
    with pytest.raises(PieceError, match="already finished"):
        finish(a_piece(title="Flood", state=State.FINISHED), owner=owner, minutes=5)


def test_packing_is_charged_before_the_piece_leaves(owner: User, at: datetime) -> None:
    box = make_lot(
        material=make_material(kind=Kind.PACKAGING, measure=MeasureChoice.COUNT),
        quantity=10_000,
        cost=money(20),
        on=june(1),
    ).material
    piece = a_piece(state=State.FOR_SALE)
    facts = pieces.WorkFacts(ingredients((box, 1_000)), minutes=5)
    for _ in range(2):
        pieces.pack_piece(
            piece=piece, facts=facts, submission=make_submission(by=owner, on=LATER, at=at, key="pack-1")
        )
    assert held_in(["work"], queries.pours_of(piece)) == money("7.50")
    assert (piece.state, Labour.objects.get().work) == (State.FOR_SALE, "Packing")
    disposals.give_away(
        piece=piece,
        reason=the_reason("gift"),
        market_value=0,
        submission=make_submission(by=owner, on=LATER, at=at),
    )
    with pytest.raises(PieceError, match="is given away, so it cannot be packed"):
        pieces.pack_piece(piece=piece, facts=facts, submission=make_submission(by=owner, on=LATER, at=at))


def test_there_are_minutes_to_add(owner: User, at: datetime) -> None:
    piece = a_piece()
    for minutes in (0, -5):
        with pytest.raises(PieceError, match=r"[Mm]inutes"):
            pieces.add_labour(
                piece=piece,
                work="Sanding",
                minutes=minutes,
                submission=make_submission(by=owner, on=LATER, at=at),
            )


def test_the_same_minutes_sent_twice_are_written_once(owner: User, helper: User, at: datetime) -> None:
    piece = a_piece()
    sanding: dict[str, Any] = {"piece": piece, "work": "Sanding", "minutes": 20}
    hers = make_submission(by=owner, on=LATER, at=at, key="a" * 32)
    first = pieces.add_labour(**sanding, submission=hers)
    assert pieces.add_labour(**sanding, submission=hers) == first
    with pytest.raises(KeyReused):
        pieces.add_labour(**{**sanding, "minutes": 25}, submission=hers)
    # another person's key is another request
    pieces.add_labour(**sanding, submission=replace(hers, by=helper))
    pieces.add_labour(**sanding, submission=replace(hers, key=""))
    assert Labour.objects.count() == 3


def test_the_database_refuses_the_same_key_for_minutes_twice(owner: User, at: datetime) -> None:
    """Going round Python."""
    piece = a_piece()
    first = pieces.add_labour(
        piece=piece,
        work="Sanding",
        minutes=20,
        submission=make_submission(by=owner, on=LATER, at=at, key="a" * 32),
    )
    again = Labour(
        piece=piece, work="Sanding", minutes=20, on=LATER, recorded_by=owner,
        key=first.key,
    )  # fmt: skip
    with pytest.raises(IntegrityError), transaction.atomic():
        Labour.objects.bulk_create([again])


def test_the_cost_of_a_piece_that_has_left_is_closed(owner: User, at: datetime) -> None:
    piece = a_piece(state=State.FINISHED)
    disposals.write_off_piece(
        piece=piece, reason=the_reason("damaged"), submission=make_submission(by=owner, on=LATER, at=at)
    )
    with pytest.raises(PieceError, match="its cost is final"):
        pieces.add_labour(
            piece=piece, work="Sanding", minutes=5, submission=make_submission(by=owner, on=LATER, at=at)
        )
    with pytest.raises(PieceError, match="no longer needs an asking price"):
        pieces.set_price(piece=piece, price=money(40), submission=make_submission())


def test_a_price_is_whole_pence_and_never_below_zero(owner: User) -> None:
    piece = a_piece()
    assert pieces.set_price(piece=piece, price=money("45.50"), submission=make_submission()).price == money(
        "45.50"
    )
    for price in (money("45.505"), -1):
        with pytest.raises(PieceError):
            pieces.set_price(piece=piece, price=price, submission=make_submission())
    Studio.objects.update(currency="JPY")
    with pytest.raises(PieceError, match="JPY has 0 decimals"):
        pieces.set_price(piece=piece, price=money("45.50"), submission=make_submission())
    assert pieces.set_price(piece=piece, price=None, submission=make_submission()).price is None


def test_a_set_shares_its_varnish_by_area(owner: User, varnish: Material) -> None:
    small = make_surface(height=10_000, width=10_000, depth=None)
    large = make_surface(height=20_000, width=15_000, depth=None)
    paint = make_lot(on=june(1)).material
    make_delivery(lines=[(small, 1_000, money(1)), (large, 1_000, money(2))], on=june(1))
    session = make_session(
        pours=[pour_of(material=paint, quantity=10_000, surface=surface) for surface in (small, large)],
        on=june(1),
    )
    piece = a_piece(pours=list(session.pours.all()), state=State.DRY)
    finish(piece, (varnish, 20_000), owner=owner)
    shares = (
        Entry.objects.filter(place="work", role="finish")
        .order_by("pour__area")
        .values_list("quantity", "money")
    )
    assert list(shares) == [(5_000, money("0.25")), (15_000, money("0.75"))]
