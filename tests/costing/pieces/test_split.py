"""A session is not taken back beneath its pieces; a piece made by mistake has been split first."""

from pathlib import Path

import pytest
from django.core.files.storage import default_storage
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from PIL import Image
from pytest_django import DjangoCaptureOnCommitCallbacks, Settings

from costing.errors import PieceError, StatusConflict
from costing.pieces.actions.photos import store_photo
from costing.pieces.actions.pieces import (
    PieceFacts,
    WorkFacts,
    add_labour,
    finish_piece,
    make_piece,
    pack_piece,
    split_piece,
)
from costing.pieces.calculations import State
from costing.pieces.models import Labour, Piece, PiecePour, PieceStep
from costing.pieces.queries import pours_without_piece
from costing.selling.actions import return_sale, sell
from inventory.errors import CannotReverse
from inventory.ledger.models import Posting
from inventory.ledger.reversal_guards import reason_against
from inventory.ledger.summaries import reversal_obstacle
from inventory.ledger.verification import check
from inventory.materials.models import Kind
from inventory.sessions.models import Pour
from studio.accounts.models import User
from studio.auditing.queries import entries, field_changes
from tests import making
from tests.costing.pages import as_user, page_of, text_of
from tests.costing.stories import LATER, POURED_ON, a_piece, make_channel, moved_to, two_ring_pours
from tests.making import ingredients, make_lot, make_material, make_pour, money
from tests.pictures import RED, encoded

pytestmark = pytest.mark.django_db


@pytest.fixture
def signed(owner: User) -> Client:
    return as_user(owner)


# The session stays while its pours are in pieces


def test_a_session_whose_pours_are_in_a_piece_stays_and_the_piece_is_named() -> None:
    first, second = two_ring_pours()
    piece = a_piece(pours=[first, second], title="Two lamps")
    with pytest.raises(CannotReverse, match="The piece “Two lamps” is made from its pours"):
        making.take_back(first.session.posting)
    assert [part.pour_id for part in piece.parts.all()] == [first.pk, second.pk]
    assert not hasattr(Posting.objects.get(pk=first.session.posting_id), "reversed_by")


def test_every_piece_of_it_is_named() -> None:
    first, second = two_ring_pours()
    a_piece(pours=[first], title="Ebb")
    a_piece(pours=[second], title="Flood")
    with pytest.raises(CannotReverse, match="The pieces “Ebb”, “Flood” are made from its pours"):
        making.take_back(first.session.posting)


def test_one_touch_is_refused_too_and_neither_way_is_offered_as_done(signed: Client) -> None:
    pour = make_pour(on=timezone.localdate(), at=timezone.now())
    page = reverse("inventory:session", args=[pour.session_id])
    assert "You can undo this" in text_of(signed.get(page))
    a_piece(pours=[pour], title="Low water")
    assert "You can undo this" not in text_of(signed.get(page))
    for name, data in (
        ("posting-undo", {"key": "a" * 32}),
        ("posting-reverse", {"key": "b" * 32, "reason": "Twice"}),
    ):
        answer = signed.post(reverse(f"inventory:{name}", args=[pour.session.posting_id]), data, follow=True)
        assert "Split that piece first" in text_of(answer)
    assert Piece.objects.get().parts.count() == 1


def test_the_posting_says_up_front_why_it_stays(signed: Client) -> None:
    pour = make_pour()
    posting = pour.session.posting
    address = reverse("inventory:posting", args=[posting.pk])
    taking_back = reverse("inventory:posting-reverse", args=[posting.pk])
    assert reversal_obstacle(posting) == ""
    assert taking_back in signed.get(address).content.decode()
    a_piece(pours=[pour], title="Low water")
    assert reversal_obstacle(posting) == reason_against(posting) != ""
    page = signed.get(address)
    assert "The piece “Low water” is made from its pours" in text_of(page)
    assert taking_back not in page.content.decode()
    asked = signed.get(taking_back)
    assert "Split that piece first" in text_of(asked)
    assert 'name="reason"' not in asked.content.decode()


def test_the_program_is_told_the_same(signed: Client) -> None:
    pour = make_pour()
    a_piece(pours=[pour], title="Low water")
    address = reverse("api-postings-reverse", args=[pour.session.posting_id])
    answer = signed.post(
        address, {"reason": "Twice"}, headers={"Idempotency-Key": "k"}, content_type="application/json"
    )
    assert answer.status_code == 409
    assert "“Low water”" in answer.json()["detail"]


def test_other_postings_of_the_piece_are_taken_back_as_ever() -> None:
    piece = a_piece(state=State.FOR_SALE)
    tissue = make_lot(material=make_material(kind=Kind.PACKAGING), on=POURED_ON).material
    pack_piece(
        piece=piece,
        facts=WorkFacts(materials=ingredients((tissue, 1000))),
        submission=making.make_submission(on=LATER),
    )
    making.take_back(Posting.objects.latest("number"))


# Taking it apart


def test_a_piece_taken_apart_leaves_its_pours_free_and_its_session_can_go(owner: User) -> None:
    piece = a_piece(title="Low water", state=State.FINISHED)
    pour = Pour.objects.get()
    add_labour(piece=piece, work="Sanding", minutes=5, submission=making.make_submission(by=owner, on=LATER))
    postings = Posting.objects.count()
    split_piece(piece=piece, submission=making.make_submission())
    assert check().is_clean
    assert not any(rows.objects.exists() for rows in (Piece, PiecePour, PieceStep, Labour))
    assert list(pours_without_piece()) == [pour]
    assert Posting.objects.count() == postings
    making.take_back(pour.session.posting)


def test_what_it_was_made_of_stands_in_the_record_of_changes(signed: Client) -> None:
    piece = a_piece(title="Low water")
    pour = Pour.objects.get()
    signed.post(page_of(piece, "piece-split"))
    change = field_changes(entries())[-1]
    assert (change.name, change.field, change.old, change.new) == ("Low water", "pours", [pour.label], None)
    assert change.by is not None
    assert pour.label in text_of(signed.get(reverse("change-log")))


def test_it_is_one_button_that_leads_back_to_the_session(signed: Client) -> None:
    piece = a_piece(title="Low water")
    session = Pour.objects.get().session
    assert "Split the piece" in text_of(signed.get(page_of(piece)))
    answer = signed.post(page_of(piece, "piece-split"), follow=True)
    assert answer.redirect_chain[-1][0] == reverse("inventory:session", args=[session.pk])
    assert "“Low water” has been split" in text_of(answer)
    assert signed.post(page_of(piece, "piece-split")).status_code == 404


def test_a_piece_that_has_left_or_was_sold_once_stays(owner: User) -> None:
    piece = moved_to(a_piece(title="Low water", price="40.00"), State.FOR_SALE)
    sale = sell(
        piece=piece,
        channel=make_channel(),
        price=money(40),
        submission=making.make_submission(by=owner, on=LATER),
    )
    with pytest.raises(PieceError, match="“Low water” is sold, so it cannot be split"):
        split_piece(piece=Piece.objects.get(), submission=making.make_submission())
    return_sale(sale=sale, submission=making.make_submission(by=owner, on=LATER))
    with pytest.raises(PieceError, match="was sold and returned"):
        split_piece(piece=Piece.objects.get(), submission=making.make_submission())


def test_a_finished_piece_stays_until_what_was_charged_to_it_is_taken_back(owner: User) -> None:
    varnish = make_lot(material=make_material(kind=Kind.FINISH), on=POURED_ON).material
    piece = a_piece(title="Low water", state=State.DRY)
    finish_piece(
        piece=piece,
        facts=WorkFacts(materials=ingredients((varnish, 1000))),
        submission=making.make_submission(by=owner, on=LATER),
    )
    charged = Posting.objects.latest("number")
    with pytest.raises(PieceError, match=f"Reverse ledger no. {charged.number} first"):
        split_piece(piece=piece, submission=making.make_submission())
    making.take_back(charged)
    split_piece(piece=piece, submission=making.make_submission())


def test_a_piece_that_somebody_moved_on_meanwhile_stays() -> None:
    stale = a_piece()
    moved_to(Piece.objects.get(), State.DRY)
    with pytest.raises(StatusConflict):
        split_piece(piece=stale, submission=making.make_submission())


def test_its_photo_goes_once_that_is_committed(
    settings: Settings, tmp_path: Path, django_capture_on_commit_callbacks: DjangoCaptureOnCommitCallbacks
) -> None:
    settings.MEDIA_ROOT = tmp_path
    piece = a_piece()
    store_photo(
        piece=piece, upload=encoded(Image.new("RGB", (9, 9), RED)), submission=making.make_submission()
    )
    name = piece.photo.name or ""
    with django_capture_on_commit_callbacks(execute=True):
        split_piece(piece=piece, submission=making.make_submission())
        assert default_storage.exists(name)
    assert not default_storage.exists(name)


def test_readers_take_nothing_apart(bookkeeper: User) -> None:
    piece = a_piece()
    reader = as_user(bookkeeper)
    assert reader.post(page_of(piece, "piece-split")).status_code == 403
    assert "Split the piece" not in text_of(reader.get(page_of(piece)))
    assert make_piece(
        facts=PieceFacts(title="Ebb", pours=[make_pour()]), submission=making.make_submission()
    ).pk
