"""Pieces: made from pours, and moved on step by step."""

from datetime import date, datetime, timedelta

import pytest
from django.db import IntegrityError, connection, transaction
from django.test.utils import CaptureQueriesContext

from costing.errors import PieceError, StatusConflict, StepRefused, StillDrying
from costing.pieces import queries
from costing.pieces.actions import pieces
from costing.pieces.actions.pieces import PieceFacts
from costing.pieces.calculations import State
from costing.pieces.models import Piece, PiecePour, PieceStep
from inventory.sessions.actions.judging import JudgementFacts, judge_pours
from inventory.sessions.models import Pour, Stage
from studio.accounts.models import User
from studio.errors import MeniscusError
from studio.preferences.models import Studio
from tests.costing.stories import LATER, a_piece, pieces_of, reverse_session_of, two_ring_pours
from tests.days import june
from tests.making import (
    make_lot,
    make_pour,
    make_session,
    make_submission,
    pour_of,
    ruin,
    take_back,
    the_reason,
)

pytestmark = pytest.mark.django_db


# Making


def test_a_piece_is_made_on_the_day_of_its_latest_session(owner: User, at: datetime) -> None:
    older, newer = make_pour(on=june(1)), make_pour(on=june(4))
    piece = pieces.make_piece(
        facts=PieceFacts(title=" Two lamps, diptych ", pours=[older, newer]),
        submission=make_submission(by=owner, at=at),
    )
    assert (piece.title, piece.made_on, piece.state) == ("Two lamps, diptych", june(4), State.WET)
    assert queries.pours_of(piece) == [older, newer]
    assert [(step.from_state, step.to_state, step.on) for step in piece.steps.all()] == [("", "wet", june(4))]


def test_each_good_pour_of_a_session_becomes_a_piece_once() -> None:
    first, second = two_ring_pours()
    Pour.objects.filter(pk=second.pk).update(outcome=Pour.Outcome.FAILED)
    made = pieces_of(first.session)
    assert [(piece.title, queries.pours_of(piece)) for piece in made] == [("Two lamps 1", [first])]
    with pytest.raises(PieceError, match="at least one"):
        pieces_of(first.session)


def test_a_good_pour_that_was_written_off_becomes_no_piece(owner: User, at: datetime) -> None:
    first, second = two_ring_pours()
    ruin(pours=[first], reason=the_reason("damaged"), submission=make_submission(by=owner, on=LATER, at=at))
    made = pieces_of(first.session)
    assert [queries.pours_of(piece) for piece in made] == [[second]]
    with pytest.raises(PieceError, match="written off"):
        pieces.make_piece(
            facts=PieceFacts(title="Low water", pours=[first]), submission=make_submission(by=owner, at=at)
        )


def test_pours_without_a_piece_are_the_good_ones_that_nothing_covers() -> None:
    first, second = two_ring_pours()
    a_piece(pours=[first])
    failed = make_pour(outcome="failed", on=june(1))
    gone = make_pour(on=june(2))
    take_back(gone.session.posting)
    beneath = make_pour(outcome="failed", on=june(2))
    paint = make_lot(on=june(2)).material
    over = make_session(pours=[pour_of(material=paint, quantity=1_000, over=beneath)], on=june(3)).pours.get()
    Pour.objects.filter(pk=beneath.pk).update(outcome=Pour.Outcome.GOOD)
    assert list(queries.pours_without_piece()) == [over, second]
    assert list(queries.pours_without_piece().filter(session=first.session)) == [second]
    assert failed not in queries.pours_without_piece()
    with CaptureQueriesContext(connection) as seen:
        assert queries.pours_without_piece().count() == 2
    assert len(seen) == 1, "counted by the database, however many there are"


def test_it_refuses_a_pour_that_is_in_a_piece_already(owner: User, at: datetime) -> None:
    piece = a_piece(title="Low water")
    with pytest.raises(PieceError, match="already part of “Low water”"):
        pieces.make_piece(
            facts=PieceFacts(title="Again", pours=queries.pours_of(piece)),
            submission=make_submission(by=owner, at=at),
        )


def test_the_database_refuses_a_pour_in_two_pieces_too() -> None:
    piece = a_piece()
    other = a_piece(title="Ebb")
    with pytest.raises(IntegrityError), transaction.atomic():
        PiecePour.objects.bulk_create([PiecePour(piece=other, pour=piece.parts.get().pour)])


def test_it_refuses_a_failed_pour(owner: User, at: datetime) -> None:
    with pytest.raises(PieceError, match="marked as failed"):
        pieces.make_piece(
            facts=PieceFacts(title="Low water", pours=[make_pour(outcome="failed")]),
            submission=make_submission(by=owner, at=at),
        )


def test_it_refuses_a_pour_of_a_reversed_session(owner: User, at: datetime) -> None:
    pour = make_pour()
    take_back(pour.session.posting)
    with pytest.raises(PieceError, match="session was reversed"):
        pieces.make_piece(
            facts=PieceFacts(title="Low water", pours=[pour]), submission=make_submission(by=owner, at=at)
        )


def test_it_refuses_a_pour_beneath_another(owner: User, at: datetime) -> None:
    failed = make_pour(outcome="failed", on=june(1))
    paint = make_lot(on=june(2)).material
    make_session(pours=[pour_of(material=paint, quantity=1_000, over=failed)], on=june(3))
    Pour.objects.filter(pk=failed.pk).update(outcome=Pour.Outcome.GOOD)
    with pytest.raises(PieceError, match="beneath another pour"):
        pieces.make_piece(
            facts=PieceFacts(title="Low water", pours=[failed]), submission=make_submission(by=owner, at=at)
        )


def test_it_refuses_the_same_pour_twice_no_pour_and_no_title(owner: User, at: datetime) -> None:
    pour = make_pour()
    for title, pours in [("Low water", [pour, pour]), ("Low water", []), ("  ", [pour])]:
        with pytest.raises(MeniscusError):
            pieces.make_piece(
                facts=PieceFacts(title=title, pours=pours), submission=make_submission(by=owner, at=at)
            )
    assert not Piece.objects.exists()


def test_pieces_of_a_reversed_session_leave_the_lists() -> None:
    kept, gone = a_piece(title="Ebb"), a_piece(title="Flood")
    reverse_session_of(gone)
    assert list(queries.standing_pieces()) == [kept]


# Moving on


def test_a_step_is_written_with_who_when_and_why(owner: User, at: datetime) -> None:
    piece = pieces.move_on(
        piece=a_piece(),
        to="dry",
        note="Near the stove",
        submission=make_submission(by=owner, on=LATER, at=at),
    )
    assert Piece.objects.get(pk=piece.pk).state == State.DRY
    step = PieceStep.objects.latest("pk")
    assert (step.from_state, step.to_state, step.on, step.recorded_by, step.recorded_at, step.note) == (
        "wet", "dry", LATER, owner, at, "Near the stove",
    )  # fmt: skip


def test_it_refuses_a_step_that_is_not_in_the_table(owner: User, at: datetime) -> None:
    piece = a_piece()
    with pytest.raises(StepRefused, match="cannot be changed to for sale"):
        pieces.move_on(piece=piece, to="for_sale", submission=make_submission(by=owner, on=LATER, at=at))
    assert piece.steps.count() == 1


def test_two_people_cannot_both_take_the_same_step(owner: User, helper: User, at: datetime) -> None:
    piece = a_piece(state=State.FOR_SALE)
    seen_by_her, seen_by_him = Piece.objects.get(pk=piece.pk), Piece.objects.get(pk=piece.pk)
    pieces.move_on(piece=seen_by_her, to="reserved", submission=make_submission(by=owner, on=LATER, at=at))
    with pytest.raises(StatusConflict, match="is now reserved"):
        pieces.move_on(
            piece=seen_by_him, to="finished", submission=make_submission(by=helper, on=LATER, at=at)
        )
    assert Piece.objects.get(pk=piece.pk).state == State.RESERVED


@pytest.mark.parametrize("day", [june(1) - timedelta(days=1), june(12)])
def test_it_refuses_a_step_before_the_piece_was_made_or_in_the_future(
    owner: User, at: datetime, day: date
) -> None:
    with pytest.raises(PieceError, match=r"31 May|made on|future"):
        pieces.move_on(piece=a_piece(), to="dry", submission=make_submission(by=owner, on=day, at=at))


def test_a_piece_whose_pours_were_judged_dry_is_finished_without_asking(owner: User, at: datetime) -> None:
    Studio.objects.update(varnish_after_days=10)
    piece = a_piece(state=State.DRY)
    submission = make_submission(by=owner, on=june(10), at=at)
    for stage, is_done in ((Stage.WET, False), (Stage.DRY, True)):
        judged = [JudgementFacts(part.pour, "good", stage) for part in piece.parts.all()]
        judge_pours(judgements=judged, submission=make_submission())
        if is_done:
            assert pieces.move_on(piece=piece, to="finished", submission=submission).state == "finished"
        else:
            with pytest.raises(StillDrying):
                pieces.move_on(piece=piece, to="finished", submission=submission)


def test_finishing_too_early_is_a_caution_not_a_wall(owner: User, at: datetime) -> None:
    Studio.objects.update(varnish_after_days=10)
    piece = a_piece(state=State.DRY)
    with pytest.raises(StillDrying, match="ready on 11 June 2025") as caution:
        pieces.move_on(piece=piece, to="finished", submission=make_submission(by=owner, on=june(10), at=at))
    assert caution.value.ready_on == june(11)
    assert (
        pieces.move_on(
            piece=piece, to="finished", anyway=True, submission=make_submission(by=owner, on=june(10), at=at)
        ).state
        == "finished"
    )
