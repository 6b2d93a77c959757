"""A sale entered by mistake: one touch brings the piece back within the hour, a return for each piece afterwards."""

from datetime import datetime, timedelta

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from costing.pieces.calculations import State
from costing.pieces.models import Piece
from costing.selling.actions import return_sale, sell
from costing.selling.models import Sale
from inventory.errors import InventoryError
from inventory.ledger.models import Posting, PostingKind
from studio.accounts.models import User
from tests.costing.pages import as_user, page_of, text_of
from tests.costing.stories import LATER, a_piece, line_of, make_channel
from tests.days import june
from tests.making import make_submission, money

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
    assert "You can undo this" in text_of(signed.get(page_of(Piece.objects.get())))
    for _time in range(2):
        answer = signed.post(reverse("costing:sale-undo", args=[sale.pk]), {"key": KEY}, follow=True)
        assert "The sale has been undone." in text_of(answer)
    assert Piece.objects.get().state == State.FOR_SALE
    assert Posting.objects.filter(kind=PostingKind.REVERSAL).count() == 1
    assert "You can undo this" not in text_of(signed.get(page_of(Piece.objects.get())))


def test_after_an_hour_the_page_of_the_sale_offers_a_return(signed: Client) -> None:
    sale = sold(timezone.now() - timedelta(minutes=61))
    assert "You can undo this" not in text_of(signed.get(page_of(Piece.objects.get())))
    answer = signed.post(reverse("costing:sale-undo", args=[sale.pk]), {"key": KEY}, follow=True)
    assert answer.redirect_chain[-1][0] == reverse("costing:sale", args=[sale.pk])
    assert line_of(sale).returned_on is None


def test_without_a_whole_key_and_for_those_who_write_nothing_nothing_happens(
    signed: Client, bookkeeper: User
) -> None:
    sale = sold(timezone.now())
    address = reverse("costing:sale-undo", args=[sale.pk])
    assert "Reload the page" in text_of(signed.post(address, {"key": "x"}, follow=True))
    reader = as_user(bookkeeper)
    assert reader.post(address, {"key": KEY}).status_code == 403
    assert "You can undo this" not in text_of(reader.get(page_of(Piece.objects.get())))
    assert line_of(sale).returned_on is None


def test_an_undone_sale_does_not_stand_in_the_way_of_an_earlier_day_and_a_return_does() -> None:
    undone, returned = (a_piece(title=title, state=State.FOR_SALE) for title in ("Ebb", "Flood"))
    for piece, back_on, is_undone in ((undone, LATER, True), (returned, june(10), False)):
        sale = sell(
            piece=piece, channel=make_channel(), price=money(40), submission=make_submission(on=LATER)
        )
        return_sale(sale=sale, is_undone=is_undone, submission=make_submission(on=back_on))
        piece.refresh_from_db()
    earlier = make_submission(on=june(8))
    assert sell(piece=undone, channel=make_channel(), price=money(40), submission=earlier).sold_on == june(8)
    with pytest.raises(InventoryError, match="10 June"):
        sell(piece=returned, channel=make_channel(), price=money(40), submission=earlier)
