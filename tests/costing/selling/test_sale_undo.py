"""A sale entered by mistake: one touch brings the piece back within the hour, the page of returns afterwards."""

from datetime import datetime, timedelta

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from costing.pieces.calculations import State
from costing.pieces.models import Piece
from costing.selling.actions import sell
from costing.selling.models import Sale
from inventory.ledger.models import Posting, PostingKind
from studio.accounts.models import User
from tests.costing.pages import as_user, page_of, text_of
from tests.costing.stories import LATER, a_piece, make_channel
from tests.making import make_helper, make_submission, money

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("books_hold")]
KEY = "a" * 32


@pytest.fixture
def signed(owner: User) -> Client:
    return as_user(owner)


def sold(at: datetime) -> Sale:
    piece = a_piece(title="Low water", state=State.FOR_SALE, price="40.00")
    return sell(
        piece=piece, channel=make_channel(), price=money(40), submission=make_submission(on=LATER, at=at)
    )


def test_one_touch_takes_a_fresh_sale_back_once(signed: Client) -> None:
    sale = sold(timezone.now())
    assert "You can undo this" in text_of(signed.get(page_of(sale.piece)))
    for _time in range(2):
        answer = signed.post(reverse("costing:sale-undo", args=[sale.pk]), {"key": KEY}, follow=True)
        assert "The sale of “Low water” has been undone." in text_of(answer)
    assert Piece.objects.get().state == State.FOR_SALE
    assert Posting.objects.filter(kind=PostingKind.REVERSAL).count() == 1
    assert "You can undo this" not in text_of(signed.get(page_of(sale.piece)))


def test_after_an_hour_the_return_is_recorded_on_its_own_page(signed: Client) -> None:
    sale = sold(timezone.now() - timedelta(minutes=61))
    assert "You can undo this" not in text_of(signed.get(page_of(sale.piece)))
    answer = signed.post(reverse("costing:sale-undo", args=[sale.pk]), {"key": KEY}, follow=True)
    assert answer.redirect_chain[-1][0] == reverse("costing:sale-return", args=[sale.pk])
    assert Sale.objects.get().returned_on is None


def test_without_a_whole_key_and_for_those_who_see_no_money_nothing_happens(signed: Client) -> None:
    sale = sold(timezone.now())
    address = reverse("costing:sale-undo", args=[sale.pk])
    assert "Reload the page" in text_of(signed.post(address, {"key": "x"}, follow=True))
    helper = as_user(make_helper())
    assert helper.post(address, {"key": KEY}).status_code == 403
    assert "You can undo this" not in text_of(helper.get(page_of(sale.piece)))
    assert Sale.objects.get().returned_on is None
