"""A return recorded by mistake: the piece is sold again for what was refunded, under numbers without gaps."""

from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from costing.errors import PieceError
from costing.pieces.calculations import State
from costing.pieces.models import Piece
from costing.selling.actions import (
    RefundFacts,
    ReturnFacts,
    refund_line,
    return_line,
    return_sale,
    sell,
    undo_return,
)
from costing.selling.models import Condition, Refund, Sale, SaleLine
from inventory.ledger.closing import close_through
from studio.accounts.models import User
from studio.preferences.models import Studio
from tests.costing.pages import KEY, as_user, text_of
from tests.costing.selling.mistyped import all_sales, sold
from tests.costing.stories import LATER, held_in, line_of, make_channel
from tests.days import june
from tests.inventory.invariants import unchanged
from tests.making import make_owner, make_submission, money, the_reason
from tests.programs import Program

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("books_hold")]

DAYS_ON = june(10)


def returned(sale: Sale, **facts: Any) -> SaleLine:
    return return_line(line=line_of(sale), facts=ReturnFacts(**facts), submission=make_submission(on=DAYS_ON))


def undone(line: SaleLine, *, key: str = "") -> Sale:
    return undo_return(line=line, submission=make_submission(on=june(11), key=key))


def test_all_figures_are_as_if_the_piece_had_never_come_back() -> None:
    sale = sold("42.00", postage=money(4), postage_paid=money(3))
    before = all_sales()
    again = undone(returned(sale))
    after = all_sales()
    assert (after.profit, after.paid, after.tax, after.fees) == (
        before.profit,
        before.paid,
        before.tax,
        before.fees,
    )
    assert (again.sold_on, again.channel, again.buyer) == (DAYS_ON, sale.channel, sale.buyer)
    piece = Piece.objects.get()
    assert piece.state == State.SOLD
    assert (held_in(["sold"], piece.pours), held_in(["work"], piece.pours)) == (money("5.50"), 0)


def test_nothing_is_deleted_and_numbers_go_on_without_gaps() -> None:
    Studio.objects.update(numbers_receipts=True)
    line = returned(sold("42.00"))
    again = undone(line)
    assert [sale.number for sale in Sale.objects.order_by("pk")] == [1, 2]
    assert [refund.number for refund in Refund.objects.all()] == [1]
    line.refresh_from_db()
    assert line.returned_on == DAYS_ON
    assert line_of(again).returned_on is None


def test_only_what_was_refunded_with_the_piece_is_sold_again() -> None:
    sale = sold("42.00")
    refund_line(line=line_of(sale), facts=RefundFacts(money(5)), submission=make_submission(on=june(10)))
    before = all_sales().profit
    again = undone(returned(sale))
    assert line_of(again).price == money(37)
    assert all_sales().profit == before


@pytest.mark.parametrize("condition", [Condition.SECOND, Condition.WRITTEN_OFF])
def test_a_piece_that_was_marked_down_or_written_off_with_the_return_is_sold_again(condition: str) -> None:
    facts = {"reason": the_reason("ruined")} if condition == Condition.WRITTEN_OFF else {}
    undone(returned(sold("42.00"), condition=condition, **facts))
    piece = Piece.objects.get()
    assert piece.state == State.SOLD
    assert (held_in(["sold"], piece.pours), held_in(["loss"], piece.pours)) == (money("5.50"), 0)


def test_the_same_request_sells_it_again_once() -> None:
    line = returned(sold("42.00"))
    assert undone(line, key="once") == undone(line, key="once")
    assert Sale.objects.count() == 2


def test_a_return_in_a_closed_period_is_undone_on_an_open_day() -> None:
    line = returned(sold("42.00"))
    close_through(day=DAYS_ON, submission=make_submission(on=june(11)))
    assert undone(line).sold_on == june(11)


def test_what_has_been_done_with_the_piece_since_goes_first() -> None:
    line = returned(sold("42.00"))
    sell(
        piece=Piece.objects.get(),
        channel=make_channel(),
        price=money(30),
        submission=make_submission(on=june(11)),
    )
    with unchanged(), pytest.raises(PieceError, match="sold"):
        undone(line)


def test_a_return_without_a_refund_and_no_return_at_all_are_refused() -> None:
    sale = sold("42.00")
    with pytest.raises(PieceError):
        undone(line_of(sale))
    with pytest.raises(PieceError, match="Nothing was refunded"):
        undone(returned(sale, amount=0, fees=0))


def test_a_sale_that_was_undone_can_be_recorded_again_the_same_way() -> None:
    sale = sold("42.00")
    before = all_sales().profit
    return_sale(sale=sale, is_undone=True, submission=make_submission(on=LATER))
    undone(line_of(sale))
    assert all_sales().profit == before


def test_the_page_of_the_sale_offers_it_within_the_hour_and_later(owner: User) -> None:
    client, line = as_user(owner), returned(sold("42.00"))
    address = reverse("costing:sale-return-undo", args=[line.pk])
    page = reverse("costing:sale", args=[line.sale_id])
    assert f'href="{address}"' in client.get(page).content.decode()
    assert "£42.00" in text_of(client.get(address))
    response = client.post(address, {"key": KEY, "note": "Wrong sale"})
    again = Sale.objects.order_by("pk").last()
    assert again is not None
    assert response["Location"] == reverse("costing:sale", args=[again.pk])
    assert again.note == "Wrong sale"
    assert address not in client.get(page).content.decode()
    assert client.post(address, {"key": "1" * 32}).status_code == 422


def test_one_touch_undoes_a_return_that_was_recorded_a_moment_ago(client: Client, owner: User) -> None:
    sale, her = sold("42.00"), as_user(owner)
    back = {"key": KEY, "on": DAYS_ON.isoformat(), "amount": "42.00", "fees": "0", "condition": "as_sold"}
    her.post(reverse("costing:sale-return", args=[line_of(sale).pk]), back)
    undo = her.get(reverse("costing:sale", args=[sale.pk])).context["undo"]
    assert undo["address"] == reverse("costing:sale-return-undo", args=[line_of(sale).pk])
    her.post(undo["address"], {"key": undo["key"]})
    assert Piece.objects.get().state == State.SOLD


def test_a_program_does_the_same() -> None:
    line = returned(sold("42.00"))
    made = Program(make_owner()).send(f"sales/{line.sale_id}/return/undo/", {"line": line.pk})
    assert made["id"] == Sale.objects.order_by("-pk")[0].pk
    assert made["lines"][0]["price"] == "42.000000"
