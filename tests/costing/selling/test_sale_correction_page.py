"""The page and the address by which a sale is put right."""

from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from costing.pieces.models import Piece
from costing.selling.actions import return_sale
from costing.selling.models import Refund, Sale
from costing.selling.queries import sale_figures, with_lines
from studio.accounts.models import User
from tests.costing.pages import KEY, as_user, page_of, text_of
from tests.costing.selling.mistyped import corrected, sold
from tests.costing.stories import line_of
from tests.days import june
from tests.making import make_bookkeeper, make_helper, make_submission, money
from tests.programs import Program
from tests.studio.papers.test_paper import read_pages

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("books_hold")]


@pytest.fixture
def signed(owner: User) -> Client:
    return as_user(owner)


def typed(sale: Sale, *prices: str, **change: Any) -> dict[str, Any]:
    """The form as a browser sends it."""
    lines = list(sale.lines.order_by("pk"))
    body: dict[str, Any] = {
        "key": KEY,
        "channel": sale.channel_id,
        "on": sale.sold_on.isoformat(),
        "buyer": "",
        "postage": "",
        "postage_paid": "",
        "reason": "Digits swapped",
        "lines-TOTAL_FORMS": str(len(lines)),
        "lines-INITIAL_FORMS": "0",
    }
    for number, (line, price) in enumerate(zip(lines, prices, strict=True)):
        body |= {f"lines-{number}-piece": line.piece_id, f"lines-{number}-price": price}
    return body | change


def address_of(sale: Sale) -> str:
    return reverse("costing:sale-correct", args=[sale.pk])


def test_the_page_opens_filled_shows_what_changes_and_then_saves_once(signed: Client) -> None:
    sale = sold("24.00", postage=money(3))
    assert address_of(sale) in signed.get(reverse("costing:sale", args=[sale.pk])).content.decode()
    opened = signed.get(address_of(sale))
    assert opened.context["formset"].forms[0]["price"].value() is not None
    assert "24.00" in opened.content.decode()
    looked = signed.post(address_of(sale), typed(sale, "42.00", postage="3.00"))
    assert (looked.status_code, Sale.objects.count()) == (200, 1)
    assert "£24.00" in text_of(looked)
    assert "£42.00" in text_of(looked)
    body = typed(sale, "42.00", postage="3.00", seen=looked.context["seen"])
    for _time in range(2):
        saved = signed.post(address_of(sale), body, follow=True)
        right = Sale.objects.get(corrects=sale)
        assert saved.redirect_chain[-1][0] == reverse("costing:sale", args=[right.pk])
    old = signed.get(reverse("costing:sale", args=[sale.pk]))
    assert reverse("costing:sale", args=[right.pk]) in old.content.decode()
    assert address_of(sale) not in old.content.decode()


def test_undoing_is_not_offered_for_a_correction_as_neither_sale_would_be_left(signed: Client) -> None:
    sale = sold("24.00")
    looked = signed.post(address_of(sale), typed(sale, "42.00"))
    saved = signed.post(address_of(sale), typed(sale, "42.00", seen=looked.context["seen"]), follow=True)
    assert "You can undo this" not in text_of(saved)
    assert "You can undo this" not in text_of(signed.get(page_of(Piece.objects.get())))
    assert "Correct this sale" in text_of(saved)


def test_a_change_after_the_preview_is_shown_before_it_is_saved(signed: Client) -> None:
    sale = sold("24.00")
    looked = signed.post(address_of(sale), typed(sale, "42.00"))
    signed.post(address_of(sale), typed(sale, "43.00", seen=looked.context["seen"]))
    assert Sale.objects.count() == 1


def test_a_page_of_what_cannot_be_corrected_says_why(signed: Client) -> None:
    sale = sold("24.00")
    return_sale(sale=sale, submission=make_submission(on=june(10)))
    assert "taken back" in text_of(signed.get(address_of(sale), follow=True))
    refused = signed.post(address_of(sale), typed(sale, "42.00"))
    assert refused.status_code == 422


def test_a_helper_without_money_corrects_a_price_and_sees_no_fee_cost_or_profit() -> None:
    sale = sold("24.00", postage_paid=money("2.11"))
    helper = as_user(make_helper())
    opened, body = helper.get(address_of(sale)), typed(sale, "42.00")
    assert "2.11" not in opened.content.decode()
    looked = helper.post(address_of(sale), body)
    figures = [row.name for row in looked.context["table"].rows]
    assert figures == ["Price"]
    helper.post(address_of(sale), body | {"seen": looked.context["seen"]})
    assert line_of(Sale.objects.get(corrects=sale)).postage_paid == money("2.11")


def test_who_only_reads_corrects_nothing() -> None:
    sale = sold("24.00")
    reader = as_user(make_bookkeeper())
    assert reader.post(address_of(sale), typed(sale, "42.00")).status_code == 403
    assert address_of(sale) not in reader.get(reverse("costing:sale", args=[sale.pk])).content.decode()


def test_a_channel_that_is_no_longer_used_stays_the_channel_of_its_sale(signed: Client) -> None:
    sale = sold("24.00")
    sale.channel.is_active = False
    sale.channel.save()
    looked = signed.post(address_of(sale), typed(sale, "42.00"))
    assert looked.context["is_shown"]


def test_a_program_looks_first_and_then_corrects_once(owner: User) -> None:
    sale, program = sold("24.00"), Program(owner)
    body = {"lines": [{"line": line_of(sale).pk, "price": "42.00"}], "reason": "Digits swapped"}
    shown = program.send(f"sales/{sale.pk}/corrections/preview/", body, status=200)
    assert [shown[name][0]["profit"] for name in ("before", "after")] == ["12.020000", "25.160000"]
    assert Sale.objects.count() == 1
    made = program.send(f"sales/{sale.pk}/corrections/", body, key="once")
    assert program.send(f"sales/{sale.pk}/corrections/", body, key="once", status=200) == made
    assert (made["corrects"], made["net_proceeds"]) == (sale.pk, "30.660000")
    assert program.read(f"sales/{sale.pk}/")["corrected_by"] == made["id"]
    program.refusal(f"sales/{sale.pk}/corrections/", body, status=422)


def test_a_credit_note_says_that_the_sale_is_replaced_and_not_that_a_piece_came_back(signed: Client) -> None:
    corrected(sold("24.00"), "42.00")
    answer = signed.get(
        reverse("costing:refund-credit-note", args=[Refund.objects.get().pk]), {"paper": "A4"}
    )
    words = " ".join(read_pages(answer.content))
    assert "recorded wrongly" in words
    assert "was returned" not in words


def test_looking_at_many_sales_asks_for_each_correction_with_the_rest() -> None:
    asked = []
    for number in range(3):
        corrected(sold("24.00", titles=[f"Tide {number}"]), "42.00")
        with CaptureQueriesContext(connection) as queries:
            sales = sale_figures(with_lines(Sale.objects.all()), "GBP")
            assert sum(each.corrected_by is not None for each in sales) == number + 1
        asked.append(len(queries))
    assert asked[1] == asked[2]
