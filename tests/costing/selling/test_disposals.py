"""Pieces that leave other than by a sale: given away, kept, spoilt, and brought back."""

from datetime import datetime
from typing import Any

import pytest

from costing.errors import PieceError
from costing.pieces import queries
from costing.pieces.calculations import State
from costing.pieces.models import Piece
from costing.selling import actions as disposals
from inventory.errors import InventoryError, KeyReused
from inventory.ledger.models import Entry, Posting
from inventory.materials.models import Material
from studio.accounts.models import User
from tests.costing.stories import LATER, POURED_ON, a_piece, finish, held_in, moved_to
from tests.days import june
from tests.making import make_lot, make_pour, make_session, make_submission, money, pour_of, ruin, the_reason

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize(("code", "state"), [("gift", "given"), ("sample", "given"), ("own-use", "kept")])
def test_a_gift_leaves_with_its_cost_and_its_market_value(
    owner: User, at: datetime, code: str, state: str
) -> None:
    piece = a_piece(state=State.FOR_SALE)
    disposals.give_away(
        piece=piece,
        reason=the_reason(code),
        market_value=money(45),
        note="For the harbour master",
        submission=make_submission(by=owner, on=LATER, at=at),
    )
    assert (piece.state, Piece.objects.get(pk=piece.pk).market_value) == (state, money(45))
    assert Entry.objects.filter(place="loss", reason__code=code).count() == 2  # canvas and paint
    assert held_in(["work", "sold"], queries.pours_of(piece)) == 0


def test_a_spoilt_piece_takes_the_pours_beneath_along(owner: User, at: datetime) -> None:
    failed = make_pour(outcome="failed", on=POURED_ON)
    paint = make_lot(on=june(2)).material
    over = make_session(
        pours=[pour_of(material=paint, quantity=100_000, over=failed)], on=june(2)
    ).pours.get()
    piece = a_piece(pours=[over])
    disposals.write_off_piece(
        piece=piece, reason=the_reason("ruined"), submission=make_submission(by=owner, on=LATER, at=at)
    )
    assert (piece.state, held_in(["work"], [failed, over])) == (State.WRITTEN_OFF, 0)
    assert sum(Entry.objects.filter(place="loss").values_list("money", flat=True)) == money("6.50")


def test_a_pour_beneath_that_was_a_loss_by_itself_is_not_taken_twice(owner: User, at: datetime) -> None:
    failed = make_pour(outcome="failed", on=POURED_ON)
    paint = make_lot(on=june(2)).material
    over = make_session(
        pours=[pour_of(material=paint, quantity=100_000, over=failed)], on=june(2)
    ).pours.get()
    ruin(pours=[failed], reason=the_reason("ruined"), submission=make_submission(by=owner, on=june(2), at=at))
    piece = a_piece(pours=[over])
    assert queries.work_of(piece) == [over]
    disposals.write_off_piece(
        piece=piece, reason=the_reason("ruined"), submission=make_submission(by=owner, on=LATER, at=at)
    )
    assert held_in(["work"], [failed, over]) == 0


def test_a_gift_is_no_loss_and_a_loss_no_gift(owner: User, at: datetime) -> None:
    piece = a_piece(state=State.FOR_SALE)
    with pytest.raises(PieceError, match="not a gift"):
        disposals.give_away(
            piece=piece,
            reason=the_reason("spilled"),
            market_value=0,
            submission=make_submission(by=owner, on=LATER, at=at),
        )
    with pytest.raises(PieceError, match="not a loss"):
        disposals.write_off_piece(
            piece=piece, reason=the_reason("gift"), submission=make_submission(by=owner, on=LATER, at=at)
        )
    with pytest.raises(PieceError, match="zero or more"):
        disposals.give_away(
            piece=piece,
            reason=the_reason("gift"),
            market_value=-1,
            submission=make_submission(by=owner, on=LATER, at=at),
        )


def test_the_same_gift_sent_twice_is_posted_once(owner: User, at: datetime) -> None:
    piece = a_piece(state=State.FOR_SALE)
    facts: dict[str, Any] = {
        "piece": piece,
        "reason": the_reason("gift"),
        "submission": make_submission(by=owner, on=LATER, at=at, key="gift-1"),
    }
    for _ in range(2):
        disposals.give_away(**facts, market_value=money(45))
    assert (
        Posting.objects.filter(kind="piece_write_off").count(),
        piece.steps.filter(to_state="given").count(),
    ) == (1, 1)
    with pytest.raises(KeyReused):
        disposals.give_away(**facts, market_value=money(50))


def test_cost_never_leaves_a_piece_on_a_day_before_it_came(owner: User, varnish: Material) -> None:
    piece = finish(a_piece(state=State.DRY), (varnish, 20_000), owner=owner, on=june(10))
    with pytest.raises(InventoryError, match="is dated 10 June 2025"):
        disposals.write_off_piece(
            piece=piece, reason=the_reason("damaged"), submission=make_submission(by=owner, on=LATER)
        )


def test_a_way_out_entered_by_mistake_is_taken_back_with_its_cost(owner: User, at: datetime) -> None:
    piece = a_piece(state=State.FOR_SALE)
    reason = the_reason("gift")
    disposals.give_away(
        piece=piece,
        reason=reason,
        market_value=money(45),
        submission=make_submission(by=owner, on=LATER, at=at),
    )
    for _ in range(2):
        disposals.bring_back_piece(
            piece=piece, submission=make_submission(by=owner, on=june(10), at=at, key="back-1")
        )
    assert (piece.state, piece.market_value) == (State.FOR_SALE, None)
    assert held_in(["work"], queries.pours_of(piece)) == money("5.50")
    disposals.give_away(
        piece=piece,
        reason=reason,
        market_value=money(45),
        submission=make_submission(by=owner, on=june(10), at=at),
    )
    assert held_in(["work"], queries.pours_of(piece)) == 0


@pytest.mark.parametrize("state", [State.WET, State.DRY, State.FOR_SALE])
def test_a_piece_that_has_not_left_cannot_be_brought_back(owner: User, at: datetime, state: State) -> None:
    with pytest.raises(PieceError):
        disposals.bring_back_piece(
            piece=moved_to(a_piece(), state), submission=make_submission(by=owner, on=LATER, at=at)
        )
