"""Where pieces are: in one place each, moved together, lent, reserved; the books do not notice."""

import threading

import pytest
from django.db import IntegrityError, connection, connections, transaction

from costing.errors import PieceError, StepRefused
from costing.locations.actions import Person
from costing.locations.models import Location, Placement, Reservation
from costing.locations.queries import LEFT, LENT, STUDIO, held_by_place, pieces_at, where_are, where_is
from costing.pieces.actions.pieces import move_on, split_piece
from costing.pieces.calculations import State
from costing.pieces.models import Piece
from inventory.alerts.actions.refreshing import refresh_alerts
from inventory.errors import KeyReused
from inventory.ledger.models import Posting
from studio.auditing.reference_rows import save_row
from studio.errors import InputError
from tests.costing.locations.stories import lend, make_box, make_contact, make_gallery, move, reserve
from tests.costing.stories import LATER, a_piece
from tests.days import AT, DAY, june
from tests.inventory.alerts.looking import standing
from tests.making import make_owner, make_submission, money

pytestmark = pytest.mark.django_db


def test_a_piece_is_in_the_studio_until_it_is_moved_and_then_in_one_place() -> None:
    piece = a_piece()
    assert (where_is(piece).kind, where_is(piece).since) == (STUDIO, None)
    postings = Posting.objects.count()
    move([piece], make_box("Market box 2"))
    move([piece], make_box(), on=june(10))
    where = where_is(piece)
    assert (where.kind, where.location, where.since) == ("box", make_box(), june(10))
    move([piece], None, on=june(10))
    assert (where_is(piece).kind, where_is(piece).location) == (STUDIO, None)
    assert [each.location_id for each in piece.placements.all()] == [
        make_box("Market box 2").pk,
        make_box().pk,
        None,
    ]
    assert Posting.objects.count() == postings


def test_pieces_that_are_there_already_are_left_where_they_are() -> None:
    here, away = a_piece(), a_piece(title="Ebb")
    move([away], make_box())
    moved = move([here, away], make_box(), on=june(10))
    assert [each.piece_id for each in moved] == [here.pk]
    assert move([a_piece(title="Neap")], None) == []


def test_the_same_move_sent_again_moves_nothing_twice() -> None:
    pieces = [a_piece(), a_piece(title="Ebb")]
    first = move(pieces, make_box(), key="one")
    move(pieces, None, on=june(10))
    assert move(pieces, make_box(), key="one") == first
    assert where_is(pieces[0]).kind == STUDIO
    with pytest.raises(KeyReused):
        move(pieces[:1], make_box(), key="one")


def test_nothing_is_moved_when_one_piece_cannot_be() -> None:
    sold, other = a_piece(state=State.FOR_SALE), a_piece(title="Ebb")
    Piece.objects.filter(pk=sold.pk).update(state=State.SOLD)
    sold.refresh_from_db()
    with pytest.raises(PieceError):
        move([other, sold], make_box())
    assert (where_is(other).kind, where_is(sold).kind) == (STUDIO, LEFT)


def test_a_piece_is_not_moved_before_it_came_to_where_it_is() -> None:
    piece = a_piece()
    move([piece], make_box(), on=june(10))
    with pytest.raises(PieceError):
        move([piece], None, on=june(9))


def test_a_location_that_is_not_in_use_takes_no_more_pieces() -> None:
    box = make_box()
    box.is_active = False
    box.save()
    with pytest.raises(InputError):
        move([a_piece()], box)


def test_what_has_held_pieces_stays_the_kind_of_place_that_it_is() -> None:
    box = make_box()
    move([a_piece()], box)
    box.kind, box.channel = "gallery", make_gallery().channel
    with pytest.raises(InputError):
        save_row(box, submission=make_submission())


def test_a_moved_piece_is_not_split() -> None:
    piece = a_piece()
    move([piece], make_box())
    with pytest.raises(PieceError):
        split_piece(piece=piece, submission=make_submission())


def test_each_place_tells_how_many_pieces_it_holds_and_their_asking_prices() -> None:
    # common practice, no source: 45.00 + 30.00 asked in the box, one piece without a price in the studio
    in_box = [a_piece(price="45.00"), a_piece(title="Ebb", price="30.00")]
    a_piece(title="Neap")
    borrowed = a_piece(title="Spring", price="20.00")
    move(in_box, make_box())
    lend(borrowed, make_contact())
    held = {(row.kind, row.location): (row.count, row.value) for row in held_by_place()}
    assert held == {
        (STUDIO, None): (1, 0),
        ("box", make_box()): (2, money("75.00")),
        (LENT, None): (1, money("20.00")),
    }
    assert set(pieces_at(make_box())) == set(in_box)


def test_a_loan_tells_to_whom_and_until_when_and_ends_when_the_piece_comes_back() -> None:
    piece, contact = a_piece(), make_contact()
    lend(piece, contact, until=june(20))
    where = where_is(piece)
    assert (where.kind, where.lent_to, where.until) == (LENT, contact, june(20))
    refresh_alerts(on=june(20), at=AT)
    assert standing("loan_overdue") == []
    refresh_alerts(on=june(21), at=AT)
    assert [alert.figures["name"] for alert in standing("loan_overdue")] == [piece.title]
    move([piece], None, on=june(10))
    refresh_alerts(on=june(21), at=AT)
    assert standing("loan_overdue") == []


def test_a_reservation_holds_until_the_piece_is_no_longer_reserved() -> None:
    piece, contact = a_piece(state=State.FOR_SALE), make_contact()
    reserve(piece, contact, until=june(20))
    assert piece.state == State.RESERVED
    later = reserve(piece, contact, until=june(30), on=june(10))
    assert where_is(piece).reservation == later
    move_on(piece=piece, to=State.FOR_SALE, submission=make_submission(on=june(10)))
    assert where_is(piece).reservation is None
    assert Reservation.objects.count() == 2


def test_an_expired_reservation_is_flagged_without_the_name() -> None:
    piece = a_piece(state=State.FOR_SALE)
    reserve(piece, make_contact(), until=june(20))
    refresh_alerts(on=june(20), at=AT)
    assert standing("reservation_expired") == []
    refresh_alerts(on=june(20) + DAY, at=AT)
    [alert] = standing("reservation_expired")
    assert "Wenda" not in str(alert.figures)


def test_a_reservation_names_one_contact_and_a_later_day() -> None:
    piece = a_piece(state=State.FOR_SALE)
    with pytest.raises(InputError):
        Person()
    with pytest.raises(InputError):
        Person(make_contact(), "Somebody else")
    with pytest.raises(InputError):
        reserve(piece, make_contact(), until=LATER - DAY)
    with pytest.raises(StepRefused):
        reserve(a_piece(title="Ebb"), make_contact())


def test_a_reader_asks_as_often_for_many_pieces_as_for_one(django_assert_num_queries: object) -> None:
    pieces = [a_piece(title=str(number), state=State.FOR_SALE) for number in range(3)]
    move(pieces[:2], make_box())
    reserve(pieces[2], make_contact())
    with django_assert_num_queries(2):  # type: ignore[operator]
        where_are(pieces)


def test_the_database_keeps_a_piece_in_one_place() -> None:
    piece = a_piece()
    [first] = move([piece], make_box())
    facts = {"piece": piece, "on": LATER, "recorded_at": AT, "recorded_by": make_owner()}
    move([piece], None, on=june(10))
    for after in (None, first):
        with pytest.raises(IntegrityError), transaction.atomic():
            Placement.objects.bulk_create([Placement(after=after, location=make_box(), **facts)])


def test_the_database_knows_no_gallery_without_a_channel() -> None:
    with pytest.raises(IntegrityError), transaction.atomic():
        Location.objects.bulk_create([Location(name="Slipway", kind="gallery")])


@pytest.mark.django_db(transaction=True)
def test_two_people_at_the_same_moment_leave_a_piece_in_one_place() -> None:
    if connection.vendor == "sqlite":
        pytest.skip("Threads cannot share SQLite's in-memory test database.")
    piece, owner, start = a_piece(), make_owner(), threading.Barrier(2)
    boxes = [make_box("Market box 1"), make_box("Market box 2")]

    def carry(mine: Piece, box: Location) -> None:
        try:
            start.wait(timeout=10)
            move([mine], box, by=owner)
        finally:
            connections.close_all()

    people = [threading.Thread(target=carry, args=(Piece.objects.get(pk=piece.pk), box)) for box in boxes]
    for person in people:
        person.start()
    for person in people:
        person.join(timeout=30)
    chain = list(piece.placements.order_by("pk"))
    assert [each.after_id for each in chain] == [None, chain[0].pk]
    assert where_is(piece).location == chain[1].location
