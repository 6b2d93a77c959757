"""Pieces: made from pours, moved on, finished, packed, priced, and taken out other than by a sale."""

from datetime import date, datetime, timedelta
from typing import Any

import pytest
from django.db import IntegrityError, transaction

from costing import pieces, ways_out
from costing.errors import MovedOnMeanwhile, PieceError, StepRefused, StillDrying
from costing.models import Labour, Piece, PiecePour, PieceStep
from costing.states import State
from inventory.errors import KeyReused, NotEnough
from inventory.models import Entry, Kind, Material, MeasureChoice, Posting, Pour
from inventory.work import write_off_work
from studio.models import Studio, User
from tests.costing.stories import LATER, POURED_ON, a_piece, held_in, moved_to, two_ring_pours, use_rates
from tests.days import AT, june
from tests.making import (
    ingredients,
    make_delivery,
    make_lot,
    make_material,
    make_pour,
    make_session,
    make_surface,
    money,
    pour_of,
    take_back,
    the_cause,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def varnish() -> Material:
    """100 mL of varnish for 5.00."""
    return make_lot(
        material=make_material(kind=Kind.FINISH), quantity=100_000, cost=money(5), on=POURED_ON
    ).material


def finish(
    piece: Piece, *amounts: tuple[Material, int], owner: User, on: date = LATER, **facts: Any
) -> Piece:
    return pieces.finish_piece(piece=piece, materials=ingredients(*amounts), on=on, by=owner, at=AT, **facts)


# Making


def test_a_piece_is_made_on_the_day_of_its_latest_session(owner: User, at: datetime) -> None:
    older, newer = make_pour(on=june(1)), make_pour(on=june(4))
    piece = pieces.make_piece(title=" Two lamps, diptych ", pours=[older, newer], by=owner, at=at)
    assert (piece.title, piece.made_on, piece.state) == ("Two lamps, diptych", june(4), State.WET)
    assert pieces.pours_of(piece) == [older, newer]
    assert [(step.from_state, step.to_state, step.on) for step in piece.steps.all()] == [("", "wet", june(4))]


def test_each_good_pour_of_a_session_becomes_a_piece_once(owner: User, at: datetime) -> None:
    first, second = two_ring_pours()
    Pour.objects.filter(pk=second.pk).update(outcome=Pour.Outcome.FAILED)
    made = pieces.make_pieces_of_session(session=first.session, by=owner, at=at)
    assert [(piece.title, pieces.pours_of(piece)) for piece in made] == [("Two lamps 1", [first])]
    assert pieces.make_pieces_of_session(session=first.session, by=owner, at=at) == []


def test_a_good_pour_that_was_written_off_becomes_no_piece(owner: User, at: datetime) -> None:
    first, second = two_ring_pours()
    write_off_work(pours=[first], cause=the_cause("damaged"), on=LATER, by=owner, at=at)
    made = pieces.make_pieces_of_session(session=first.session, by=owner, at=at)
    assert [pieces.pours_of(piece) for piece in made] == [[second]]
    with pytest.raises(PieceError, match="written off"):
        pieces.make_piece(title="Low water", pours=[first], by=owner, at=at)


def test_it_refuses_a_pour_that_is_in_a_piece_already(owner: User, at: datetime) -> None:
    piece = a_piece(title="Low water")
    with pytest.raises(PieceError, match="already part of “Low water”"):
        pieces.make_piece(title="Again", pours=pieces.pours_of(piece), by=owner, at=at)


def test_the_database_refuses_a_pour_in_two_pieces_too() -> None:
    piece = a_piece()
    other = a_piece(title="Ebb")
    with pytest.raises(IntegrityError), transaction.atomic():
        PiecePour.objects.bulk_create([PiecePour(piece=other, pour=piece.parts.get().pour)])


def test_it_refuses_a_failed_pour(owner: User, at: datetime) -> None:
    with pytest.raises(PieceError, match="marked as failed"):
        pieces.make_piece(title="Low water", pours=[make_pour(outcome="failed")], by=owner, at=at)


def test_it_refuses_a_pour_of_a_reversed_session(owner: User, at: datetime) -> None:
    pour = make_pour()
    take_back(pour.session.posting)
    with pytest.raises(PieceError, match="session was reversed"):
        pieces.make_piece(title="Low water", pours=[pour], by=owner, at=at)


def test_it_refuses_a_pour_beneath_another(owner: User, at: datetime) -> None:
    failed = make_pour(outcome="failed", on=june(1))
    paint = make_lot(on=june(2)).material
    make_session(pours=[pour_of(material=paint, quantity=1_000, over=failed)], on=june(3))
    Pour.objects.filter(pk=failed.pk).update(outcome=Pour.Outcome.GOOD)
    with pytest.raises(PieceError, match="beneath another pour"):
        pieces.make_piece(title="Low water", pours=[failed], by=owner, at=at)


def test_it_refuses_the_same_pour_twice_no_pour_and_no_title(owner: User, at: datetime) -> None:
    pour = make_pour()
    for title, pours in [("Low water", [pour, pour]), ("Low water", []), ("  ", [pour])]:
        with pytest.raises(PieceError):
            pieces.make_piece(title=title, pours=pours, by=owner, at=at)
    assert not Piece.objects.exists()


def test_pieces_of_a_reversed_session_leave_the_lists() -> None:
    kept, gone = a_piece(title="Ebb"), a_piece(title="Flood")
    take_back(gone.parts.get().pour.session.posting)
    assert list(pieces.standing_pieces()) == [kept]


# Moving on


def test_a_step_is_written_with_who_when_and_why(owner: User, at: datetime) -> None:
    piece = pieces.move_on(piece=a_piece(), to="dry", on=LATER, by=owner, at=at, note="Near the stove")
    assert Piece.objects.get(pk=piece.pk).state == State.DRY
    step = PieceStep.objects.latest("pk")
    assert (step.from_state, step.to_state, step.on, step.recorded_by, step.recorded_at, step.note) == (
        "wet", "dry", LATER, owner, at, "Near the stove",
    )  # fmt: skip


def test_it_refuses_a_step_that_is_not_in_the_table(owner: User, at: datetime) -> None:
    piece = a_piece()
    with pytest.raises(StepRefused, match="cannot become for sale"):
        pieces.move_on(piece=piece, to="for_sale", on=LATER, by=owner, at=at)
    assert piece.steps.count() == 1


def test_two_people_cannot_both_take_the_same_step(owner: User, helper: User, at: datetime) -> None:
    piece = a_piece(state=State.FOR_SALE)
    seen_by_her, seen_by_him = Piece.objects.get(pk=piece.pk), Piece.objects.get(pk=piece.pk)
    pieces.move_on(piece=seen_by_her, to="reserved", on=LATER, by=owner, at=at)
    with pytest.raises(MovedOnMeanwhile, match="meanwhile become reserved"):
        pieces.move_on(piece=seen_by_him, to="finished", on=LATER, by=helper, at=at)
    assert Piece.objects.get(pk=piece.pk).state == State.RESERVED


@pytest.mark.parametrize("day", [june(1) - timedelta(days=1), june(12)])
def test_it_refuses_a_step_before_the_piece_was_made_or_in_the_future(
    owner: User, at: datetime, day: date
) -> None:
    with pytest.raises(PieceError, match=r"31 May|made on|future"):
        pieces.move_on(piece=a_piece(), to="dry", on=day, by=owner, at=at)


def test_finishing_too_early_is_a_caution_not_a_wall(owner: User, at: datetime) -> None:
    Studio.objects.update(varnish_after_days=10)
    piece = a_piece(state=State.DRY)
    with pytest.raises(StillDrying, match="ready on 11 June 2025") as caution:
        pieces.move_on(piece=piece, to="finished", on=june(10), by=owner, at=at)
    assert caution.value.ready_on == june(11)
    assert (
        pieces.move_on(piece=piece, to="finished", on=june(10), by=owner, at=at, anyway=True).state
        == "finished"
    )


# Finishing, packing, minutes


def test_finishing_charges_varnish_and_minutes_and_moves_the_piece_on(owner: User, varnish: Material) -> None:
    use_rates()
    piece = finish(a_piece(state=State.DRY), (varnish, 20_000), owner=owner, minutes=15, work="Two coats")
    assert piece.state == State.FINISHED
    assert Entry.objects.get(place="work", role="finish").money == money(1)
    labour = Labour.objects.get()
    assert (labour.work, labour.minutes, labour.wage_per_hour, labour.overhead_per_hour) == (
        "Two coats", 15, money(12), money(3),
    )  # fmt: skip


def test_a_further_coat_leaves_the_state_as_it_is(owner: User, varnish: Material) -> None:
    piece = finish(a_piece(state=State.FOR_SALE), (varnish, 20_000), owner=owner)
    assert piece.state == State.FOR_SALE
    assert held_in(["work"], pieces.pours_of(piece)) == money("6.50")


def test_the_same_finishing_sent_twice_is_posted_once(owner: User, varnish: Material) -> None:
    use_rates()
    piece = a_piece(state=State.DRY)
    for _ in range(2):
        finish(piece, (varnish, 20_000), owner=owner, minutes=15, key="form-1")
    assert (Labour.objects.count(), Posting.objects.filter(kind="finishing").count()) == (1, 1)
    with pytest.raises(KeyReused):
        finish(piece, (varnish, 30_000), owner=owner, minutes=15, key="form-1")


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
    with pytest.raises(PieceError, match="finished already"):
        finish(a_piece(title="Flood", state=State.FINISHED), owner=owner, minutes=5)


def test_packing_is_charged_before_the_piece_leaves(owner: User, at: datetime) -> None:
    box = make_lot(
        material=make_material(kind=Kind.PACKAGING, measure=MeasureChoice.COUNT),
        quantity=10_000,
        cost=money(20),
        on=june(1),
    ).material
    piece = a_piece(state=State.FOR_SALE)
    facts: dict[str, Any] = {
        "piece": piece,
        "materials": ingredients((box, 1_000)),
        "on": LATER,
        "by": owner,
        "at": at,
    }
    for _ in range(2):
        pieces.pack_piece(**facts, minutes=5, key="pack-1")
    assert held_in(["work"], pieces.pours_of(piece)) == money("7.50")
    assert (piece.state, Labour.objects.get().work) == (State.FOR_SALE, "Packing")
    ways_out.give_away(piece=piece, cause=the_cause("gift"), market_value=0, on=LATER, by=owner, at=at)
    with pytest.raises(PieceError, match="is given away, so it cannot be packed"):
        pieces.pack_piece(**facts)


def test_minutes_are_kept_at_the_wage_of_that_day(owner: User, at: datetime) -> None:
    use_rates(wage="12.00")
    piece = a_piece()
    pieces.add_labour(piece=piece, work="Sanding", minutes=20, on=LATER, by=owner, at=at)
    use_rates(wage="15.00")
    assert Labour.objects.get().wage_per_hour == money(12)
    for minutes in (0, -5):
        with pytest.raises(PieceError, match=r"[Mm]inutes"):
            pieces.add_labour(piece=piece, work="Sanding", minutes=minutes, on=LATER, by=owner, at=at)


def test_the_cost_of_a_piece_that_has_left_is_closed(owner: User, at: datetime) -> None:
    piece = a_piece(state=State.FINISHED)
    ways_out.spoil(piece=piece, cause=the_cause("damaged"), on=LATER, by=owner, at=at)
    with pytest.raises(PieceError, match="its cost is closed"):
        pieces.add_labour(piece=piece, work="Sanding", minutes=5, on=LATER, by=owner, at=at)
    with pytest.raises(PieceError, match="no asking price"):
        pieces.set_price(piece=piece, price=money(40))


def test_a_price_is_whole_pence_and_never_below_zero(owner: User) -> None:
    piece = a_piece()
    assert pieces.set_price(piece=piece, price=money("45.50")).price == money("45.50")
    for price in (money("45.505"), -1):
        with pytest.raises(PieceError):
            pieces.set_price(piece=piece, price=price)
    Studio.objects.update(currency="JPY")
    with pytest.raises(PieceError, match="JPY has 0 decimals"):
        pieces.set_price(piece=piece, price=money("45.50"))
    assert pieces.set_price(piece=piece, price=None).price is None


# Ways out


@pytest.mark.parametrize(("code", "state"), [("gift", "given"), ("sample", "given"), ("own-use", "kept")])
def test_a_gift_leaves_with_its_cost_and_its_market_value(
    owner: User, at: datetime, code: str, state: str
) -> None:
    piece = a_piece(state=State.FOR_SALE)
    ways_out.give_away(
        piece=piece,
        cause=the_cause(code),
        market_value=money(45),
        on=LATER,
        by=owner,
        at=at,
        note="For the harbour master",
    )
    assert (piece.state, Piece.objects.get(pk=piece.pk).market_value) == (state, money(45))
    assert Entry.objects.filter(place="loss", cause__code=code).count() == 2  # canvas and paint
    assert held_in(["work", "sold"], pieces.pours_of(piece)) == 0


def test_a_spoilt_piece_takes_the_pours_beneath_along(owner: User, at: datetime) -> None:
    failed = make_pour(outcome="failed", on=POURED_ON)
    paint = make_lot(on=june(2)).material
    over = make_session(
        pours=[pour_of(material=paint, quantity=100_000, over=failed)], on=june(2)
    ).pours.get()
    piece = a_piece(pours=[over])
    ways_out.spoil(piece=piece, cause=the_cause("ruined"), on=LATER, by=owner, at=at)
    assert (piece.state, held_in(["work"], [failed, over])) == (State.SPOILT, 0)
    assert sum(Entry.objects.filter(place="loss").values_list("money", flat=True)) == money("6.50")


def test_a_pour_beneath_that_was_a_loss_by_itself_is_not_taken_twice(owner: User, at: datetime) -> None:
    failed = make_pour(outcome="failed", on=POURED_ON)
    paint = make_lot(on=june(2)).material
    over = make_session(
        pours=[pour_of(material=paint, quantity=100_000, over=failed)], on=june(2)
    ).pours.get()
    write_off_work(pours=[failed], cause=the_cause("ruined"), on=june(2), by=owner, at=at)
    piece = a_piece(pours=[over])
    assert pieces.work_of(piece) == [over]
    ways_out.spoil(piece=piece, cause=the_cause("ruined"), on=LATER, by=owner, at=at)
    assert held_in(["work"], [failed, over]) == 0


def test_a_gift_is_no_loss_and_a_loss_no_gift(owner: User, at: datetime) -> None:
    piece = a_piece(state=State.FOR_SALE)
    with pytest.raises(PieceError, match="not a gift"):
        ways_out.give_away(piece=piece, cause=the_cause("spilled"), market_value=0, on=LATER, by=owner, at=at)
    with pytest.raises(PieceError, match="not a loss"):
        ways_out.spoil(piece=piece, cause=the_cause("gift"), on=LATER, by=owner, at=at)
    with pytest.raises(PieceError, match="zero or more"):
        ways_out.give_away(piece=piece, cause=the_cause("gift"), market_value=-1, on=LATER, by=owner, at=at)


def test_the_same_gift_sent_twice_is_posted_once(owner: User, at: datetime) -> None:
    piece = a_piece(state=State.FOR_SALE)
    facts: dict[str, Any] = {
        "piece": piece,
        "cause": the_cause("gift"),
        "on": LATER,
        "by": owner,
        "at": at,
        "key": "gift-1",
    }
    for _ in range(2):
        ways_out.give_away(**facts, market_value=money(45))
    assert (Posting.objects.filter(kind="spoilt").count(), piece.steps.filter(to_state="given").count()) == (
        1,
        1,
    )
    with pytest.raises(KeyReused):
        ways_out.give_away(**facts, market_value=money(50))


def test_cost_never_leaves_a_piece_on_a_day_before_it_came(owner: User, varnish: Material) -> None:
    piece = finish(a_piece(state=State.DRY), (varnish, 20_000), owner=owner, on=june(10))
    with pytest.raises(PieceError, match="is dated 10 June 2025"):
        ways_out.spoil(piece=piece, cause=the_cause("damaged"), on=LATER, by=owner, at=AT)


def test_a_way_out_entered_by_mistake_is_taken_back_with_its_cost(owner: User, at: datetime) -> None:
    piece = a_piece(state=State.FOR_SALE)
    cause = the_cause("gift")
    ways_out.give_away(piece=piece, cause=cause, market_value=money(45), on=LATER, by=owner, at=at)
    for _ in range(2):
        ways_out.bring_back(piece=piece, on=june(10), by=owner, at=at, key="back-1")
    assert (piece.state, piece.market_value) == (State.FOR_SALE, None)
    assert held_in(["work"], pieces.pours_of(piece)) == money("5.50")
    ways_out.give_away(piece=piece, cause=cause, market_value=money(45), on=june(10), by=owner, at=at)
    assert held_in(["work"], pieces.pours_of(piece)) == 0


def test_a_piece_that_has_not_left_cannot_be_brought_back(owner: User, at: datetime) -> None:
    with pytest.raises(PieceError):
        ways_out.bring_back(piece=moved_to(a_piece(), State.DRY), on=LATER, by=owner, at=at)


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
