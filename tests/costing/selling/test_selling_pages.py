"""Pages that sell several pieces, ask about reserved ones, and take back or refund."""

from typing import Any
from uuid import uuid4

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from costing.contacts.actions import add_contact, erase_contact
from costing.contacts.queries import dealings_with
from costing.pieces.calculations import State
from costing.pieces.models import Piece
from costing.pricing.models import SalesChannel
from costing.selling.actions import sell
from costing.selling.models import Sale
from studio.accounts.models import User
from studio.preferences.models import Studio
from tests.costing.markets.stories import make_market
from tests.costing.pages import KEY, as_user, text_of
from tests.costing.selling.test_sale_pages import BACK, sold, till
from tests.costing.stories import LATER, a_piece, line_of, make_channel
from tests.days import june
from tests.making import close_books, make_submission, money, the_reason

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("books_hold")]


@pytest.fixture
def signed(owner: User) -> Client:
    return as_user(owner)


def several(pieces: list[Piece], channel: SalesChannel, **facts: str) -> tuple[str, dict[str, Any]]:
    address = reverse("costing:sale-new") + "?" + "&".join(f"piece={piece.pk}" for piece in pieces)
    rows = {"lines-TOTAL_FORMS": str(len(pieces)), "lines-INITIAL_FORMS": "0"}
    for number, piece in enumerate(pieces):
        rows |= {f"lines-{number}-piece": str(piece.pk), f"lines-{number}-price": "40.00"}
    return address, {"key": KEY, "channel": channel.pk, "on": "2025-06-09"} | rows | facts


def test_several_pieces_are_chosen_and_sold_together(signed: Client) -> None:
    pieces = [a_piece(title=title, state=State.FOR_SALE, price="40.00") for title in ("Ebb", "Flood")]
    assert "Continue" in text_of(signed.get(reverse("costing:sale-new"))) or make_channel()
    buyer = add_contact(name="The ferry master", submission=make_submission())
    facts = {"discount": "8.00", "postage": "6.00", "cash": "100.00", "buyer": str(buyer.pk)}
    address, body = several(pieces, make_channel(), **facts)
    assert 'value="40.00"' in signed.get(address).content.decode()
    for _time in range(2):
        page = signed.post(address, body, follow=True)
    sale = Sale.objects.get()
    assert (sale.buyer, [line.price for line in sale.lines.order_by("pk")]) == (buyer, [money(36)] * 2)
    assert "Paid by the buyer £78.00" in text_of(page)
    assert [each.price for each in dealings_with(buyer)] == [money(36)] * 2
    erase_contact(contact=buyer, submission=make_submission())
    sale.refresh_from_db()
    assert sale.buyer is None


def test_the_only_sales_channel_is_chosen_and_the_change_is_written_as_the_studio_writes(
    signed: Client,
) -> None:
    Studio.objects.update(locale="nl-NL", currency="EUR")
    channel, piece = make_channel(), a_piece(title="Ebb", state=State.FOR_SALE, price="40.00")
    page = signed.get(several([piece], channel)[0])
    assert page.context["form"]["channel"].value() == channel.pk
    assert f'data-sample="{page.context["money_sample"]}"' in page.content.decode()
    assert page.context["money_sample"] == "€\xa01.000,00"
    make_channel("Stall")
    assert not signed.get(several([piece], channel)[0]).context["form"]["channel"].value()


def test_a_discount_in_per_cent_is_refused_with_the_reason(signed: Client) -> None:
    pieces = [a_piece(title=title, state=State.FOR_SALE, price="40.00") for title in ("Ebb", "Flood")]
    address, body = several(pieces, make_channel(), discount="10%")
    [reason] = signed.post(address, body).context["form"].errors["discount"]
    assert "not as a percentage" in reason
    assert not Sale.objects.exists()


def test_a_refused_sale_of_several_names_the_piece_and_keeps_what_was_typed(signed: Client) -> None:
    pieces = [a_piece(title=title, state=State.FOR_SALE, price="40.00") for title in ("Ebb", "Flood")]
    address, body = several(pieces, make_channel(), note="To the harbour office")
    sell(piece=pieces[1], channel=make_channel(), price=money(9), submission=make_submission(on=LATER))
    page = signed.post(address, body)
    assert (page.status_code, Sale.objects.count()) == (422, 1)
    assert "“Flood” is sold, so it cannot be sold" in text_of(page)
    assert "To the harbour office" in page.content.decode()


def test_a_reserved_piece_is_sold_after_a_tick(signed: Client) -> None:
    piece = a_piece(state=State.RESERVED, price="45.00")
    address, body = reverse("costing:sell", args=[piece.pk]), till(make_channel())
    page = signed.post(address, body)
    assert "“Low water” is reserved." in text_of(page)
    assert not Sale.objects.exists()
    [question] = page.context["form"].questions
    assert signed.post(address, body | {"confirm": question.token}).status_code == 302
    assert Sale.objects.exists()


def test_a_piece_sold_below_cost_is_warned_about_where_money_is_seen(signed: Client, helper: User) -> None:
    channel = make_channel()
    for client, warns in ((signed, True), (as_user(helper), False)):
        piece = a_piece(state=State.FOR_SALE)
        page = client.post(reverse("costing:sell", args=[piece.pk]), till(channel, price="2.00"), follow=True)
        assert ("Sold below cost" in text_of(page)) is warns


def test_a_damaged_piece_comes_back_as_a_second_or_is_written_off(signed: Client) -> None:
    for condition, state in (("second", State.FOR_SALE), ("written_off", State.WRITTEN_OFF)):
        line = line_of(sold(condition))
        address = reverse("costing:sale-return", args=[line.pk])
        body = BACK | {"key": uuid4().hex, "condition": condition, "amount": "40.00"}
        if condition == "written_off":
            assert signed.post(address, body).status_code == 422  # what happened is not said
            assert line_of(line.sale).returned_on is None
            body["reason"] = str(the_reason().pk)
        assert signed.post(address, body).status_code == 302
        piece = Piece.objects.get(pk=line.piece_id)
        assert piece.state == state
        outcome = "second" if condition == "second" else "failed"
        assert {pour.outcome for pour in piece.pours} == {outcome}


def test_a_partial_refund_leaves_the_piece_sold(signed: Client) -> None:
    line = line_of(sold())
    address = reverse("costing:sale-refund", args=[line.pk])
    body = {"key": KEY, "on": "2025-06-10", "amount": "5.00", "note": "A chip in the corner"}
    for _time in range(2):
        assert signed.post(address, body).status_code == 302
    assert "more than the buyer paid" in text_of(
        signed.post(address, body | {"key": "2" * 32, "amount": "41"})
    )
    refund = line.refunds.get()
    assert (refund.amount, refund.condition, Piece.objects.get().state) == (money(5), "", State.SOLD)
    assert "£40.00" in text_of(signed.get(reverse("costing:sales")))


def test_a_refund_is_not_recorded_in_a_closed_period(signed: Client) -> None:
    line = line_of(sold())
    close_books(through=june(10))
    body = {"key": KEY, "on": "2025-06-10", "amount": "5.00"}
    page = signed.post(reverse("costing:sale-refund", args=[line.pk]), body)
    assert (page.status_code, line.refunds.count()) == (422, 0)


def test_on_the_day_of_a_market_the_quick_sale_is_one_touch_away(signed: Client) -> None:
    a_piece(state=State.FOR_SALE)
    market, address = make_market(on=timezone.localdate()), reverse("costing:sale-new")
    assert "Quick sale: Lantern Quay" in text_of(signed.get(address))
    market.delete()
    assert "Quick sale:" not in text_of(signed.get(address))
