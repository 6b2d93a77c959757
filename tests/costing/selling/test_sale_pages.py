"""Sale pages: selling, taking a sale back, the list with its sums, and the list as a file."""

import csv
from datetime import date
from io import StringIO
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from costing.pieces.calculations import State
from costing.pieces.models import Piece
from costing.pricing.models import SalesChannel
from costing.selling.actions import return_sale, sell
from costing.selling.filters import SaleFilter
from costing.selling.models import Sale
from inventory.ledger.models import Posting
from studio.accounts.models import User
from tests.costing.pages import KEY, NASTY, as_user, text_of
from tests.costing.stories import LATER, a_piece, line_of, make_channel, use_rates
from tests.days import june
from tests.making import make_rates, make_submission, money

pytestmark = pytest.mark.django_db


@pytest.fixture
def signed(owner: User) -> Client:
    return as_user(owner)


def sold(
    title: str = "Low water",
    price: str = "45.00",
    *,
    channel: SalesChannel | None = None,
    on: date = LATER,
    note: str = "",
) -> Sale:
    piece = a_piece(title=title, state=State.FOR_SALE, price=price)
    return sell(
        piece=piece,
        channel=channel or make_channel(),
        price=money(price),
        note=note,
        submission=make_submission(on=on),
    )


def till(channel: SalesChannel, **facts: str) -> dict[str, Any]:
    return {"key": KEY, "channel": channel.pk, "price": "45.00", "on": "2025-06-09"} | facts


BACK = {"key": KEY, "on": "2025-06-10", "amount": "45.00", "condition": "as_sold"}


# Selling


def test_the_page_begins_with_the_asking_price_and_tells_the_floor(signed: Client) -> None:
    make_channel("Gallery", commission=500_000)
    make_channel("Closed shop", is_active=False)
    piece = a_piece(state=State.FOR_SALE, price="45.00")
    response = signed.get(reverse("costing:sell", args=[piece.pk]))
    assert 'value="45.00"' in response.content.decode()
    words = text_of(response)
    # Half of 11.00 leaves the cost of 5.50; half of 45.00 less 5.50 is 17.00.
    assert "Gallery lowest £11.00 £45.00 leaves £17.00" in words
    assert "Closed shop" not in words


def test_a_piece_is_sold_once_however_often_the_form_is_sent(signed: Client) -> None:
    piece, channel = a_piece(state=State.FOR_SALE, price="45.00"), make_channel()
    for _ in range(2):
        response = signed.post(
            reverse("costing:sell", args=[piece.pk]), till(channel, note="To the ferry master")
        )
        assert response["Location"] == reverse("costing:sale", args=[Sale.objects.get().pk])
    sale = Sale.objects.get()
    assert (line_of(sale).price, sale.sold_on, sale.note) == (money(45), LATER, "To the ferry master")
    assert Posting.objects.filter(kind="sale").count() == 1


@pytest.mark.parametrize(
    ("facts", "says"),
    [
        ({"price": "0"}, "above zero"),
        ({"price": "45.005"}, "45.005"),
        ({"price": ""}, "required"),
        ({"channel": ""}, "required"),
        ({"channel": "999999"}, "valid choice"),
        ({"on": "2025-05-30"}, "1 June 2025"),
        ({"key": "x"}, "Reload the page"),
    ],
)
def test_what_is_wrong_stands_in_its_place_and_nothing_is_sold(
    signed: Client, facts: dict[str, str], says: str
) -> None:
    piece = a_piece(state=State.FOR_SALE)
    response = signed.post(reverse("costing:sell", args=[piece.pk]), till(make_channel()) | facts)
    assert response.status_code == 422
    assert says in text_of(response)
    assert not Sale.objects.exists()


def test_a_wet_piece_is_not_sold(signed: Client) -> None:
    piece = a_piece()
    channel = make_channel()
    assert "is wet, so it cannot be sold now" in text_of(signed.get(reverse("costing:sell", args=[piece.pk])))
    response = signed.post(reverse("costing:sell", args=[piece.pk]), till(channel))
    assert response.status_code == 422
    assert "cannot be changed to sold" in text_of(response)


def test_without_a_route_the_page_says_what_to_do_first(signed: Client) -> None:
    words = text_of(signed.get(reverse("costing:sell", args=[a_piece(state=State.FOR_SALE).pk])))
    assert "Where do you sell?" in words


# Coming back


def test_a_sale_is_taken_back_once(signed: Client) -> None:
    sale = sold()
    address = reverse("costing:sale-return", args=[line_of(sale).pk])
    assert "Sold 9 Jun 2025, Lantern Quay stall Price paid £45.00" in text_of(signed.get(address))
    for _ in range(2):
        response = signed.post(address, BACK | {"note": "Wrong blue"})
        assert response.status_code == 302
    assert (line_of(sale).returned_on, Piece.objects.get().state) == (june(10), State.FOR_SALE)
    assert "It has already been returned." in text_of(signed.get(address))
    assert signed.post(address, BACK | {"key": "1" * 32}).status_code == 422


def test_nothing_comes_back_before_it_was_sold(signed: Client) -> None:
    response = signed.post(
        reverse("costing:sale-return", args=[line_of(sold()).pk]), BACK | {"on": "2025-06-08"}
    )
    assert response.status_code == 422
    assert "cannot be returned before that" in text_of(response)


# The list


def test_the_list_tells_price_fees_cost_and_what_was_left_and_sums_them(signed: Client) -> None:
    use_rates(wage="0", overhead="0")
    gallery = make_channel("Gallery", commission=350_000, fixed_fee=money("0.20"))
    sold("Ebb", "45.00", channel=gallery)
    sold("Flood", "4.00", channel=make_channel("Stall"), on=june(10))
    words = text_of(signed.get(reverse("costing:sales")))
    # 45.00 less 35 % and 0.20 is 29.05; each piece cost 5.50.
    assert "Ebb 9 Jun 2025 Gallery £45.00 £15.95 £29.05 £5.50 £23.55" in words
    assert "Flood 10 Jun 2025 Stall £4.00 £4.00 £5.50 −£1.50" in words
    assert "Total £49.00 £15.95 £33.05 £11.00 £22.05" in words
    assert "not tax or legal advice" in words


def test_tax_inside_the_price_has_its_own_column(signed: Client) -> None:
    use_rates(wage="0", overhead="0", tax_rate=200_000)
    sold("Ebb", "12.00")
    # The tax inside 12.00 at 20 % is 2.00: VAT fraction 1/6 (HM Revenue & Customs, VAT Notice 700).
    assert "£12.00 £2.00 £10.00 £5.50 £4.50" in text_of(signed.get(reverse("costing:sales")))


def test_a_sale_that_came_back_is_listed_and_brings_nothing(signed: Client) -> None:
    return_sale(sale=sold("Ebb", "30.00"), submission=make_submission(on=june(10)))
    sold("Flood", "40.00")
    response = signed.get(reverse("costing:sales"))
    assert "Ebb Returned" in text_of(response)
    total = response.context["total"]
    assert (total.count, total.paid, total.net_proceeds) == (1, money(40), money(40))


def test_the_list_filters_by_route_month_and_words(signed: Client) -> None:
    stall, gallery = make_channel("Stall"), make_channel("Gallery")
    sold("Ebb", channel=stall)
    sold("Flood", channel=gallery, note="Spring opening")

    def listed(**query: Any) -> list[str]:
        response = signed.get(reverse("costing:sales"), query)
        assert response.context["total"].count == len(response.context["page_obj"])
        return sorted(each.titles for each in response.context["page_obj"])

    assert listed() == ["Ebb", "Flood"]
    assert listed(channel=gallery.pk) == ["Flood"]
    assert listed(month="2025-06") == ["Ebb", "Flood"]
    assert listed(month="2025-05") == []
    assert listed(search="spring") == ["Flood"]
    assert listed(search="opening gallery") == ["Flood"]
    assert listed(channel="x", month="2025-13", search="") == ["Ebb", "Flood"]


def test_the_list_sorts_by_what_was_left(signed: Client) -> None:
    sold("Ebb", "45.00", channel=make_channel("Gallery", commission=350_000))  # 29.25 are left
    sold("Flood", "40.00")
    return_sale(sale=sold("Slack", "60.00"), submission=make_submission(on=june(10)))

    def listed(sort: str) -> list[str]:
        response = signed.get(reverse("costing:sales"), {"sort": sort, "returned": ""})
        return [each.titles for each in response.context["page_obj"]]

    assert listed("proceeds") == ["Slack", "Ebb", "Flood"]
    assert listed("-proceeds") == ["Flood", "Ebb", "Slack"]
    assert listed("-price") == ["Slack", "Ebb", "Flood"]


@pytest.mark.parametrize("sort", dict(SaleFilter.base_filters["sort"].extra["choices"]))
def test_every_heading_that_sorts_leads_to_the_list(sort: str, signed: Client) -> None:
    sale = sold()
    response = signed.get(reverse("costing:sales"), {"sort": sort})
    assert [each.sale for each in response.context["page_obj"]] == [sale]


def test_an_empty_list_teaches(signed: Client) -> None:
    assert "No sales yet Finish a piece first" in text_of(signed.get(reverse("costing:sales")))
    a_piece(state=State.FOR_SALE)
    assert "choose “Sell it”" in text_of(signed.get(reverse("costing:sales")))


# The file


def rows_of(response: Any) -> list[dict[str, str]]:
    return list(csv.DictReader(StringIO(response.content.decode("utf-8-sig"), newline="")))


def test_the_file_holds_what_the_list_shows(signed: Client) -> None:
    use_rates(wage="0", overhead="0")
    sale = sold("Ebb", "4.00", note="Last of the day")
    sold("Flood", channel=make_channel("Gallery"))
    (row,) = rows_of(signed.get(reverse("costing:sales"), {"search": "ebb", "export": "csv"}))
    assert row == {
        "Receipt": "", "Pieces": "Ebb", "Piece numbers": Piece.objects.get(title="Ebb").label, "Day": "2025-06-09",
        "Sales channel": "Lantern Quay stall", "Price (GBP)": "4.00",
        "Postage charged (GBP)": "0.00", "Refunded (GBP)": "0.00",
        "Fees (GBP)": "0.00", "Postage paid (GBP)": "0.00",
        "Net proceeds (GBP)": "4.00", "Cost (GBP)": "5.50", "Profit (GBP)": "-1.50",
        "Note": "Last of the day", "Sale": str(sale.pk),
    }  # fmt: skip


def test_a_hostile_title_cannot_run_in_a_spreadsheet(signed: Client) -> None:
    """OWASP Application Security Verification Standard 5.0, requirement 1.2.10."""
    sold('=HYPERLINK("//quay","open")', note="@SUM(A1)", channel=make_channel("+44 stall"))
    (row,) = rows_of(signed.get(reverse("costing:sales"), {"export": "csv"}))
    assert (row["Pieces"], row["Note"], row["Sales channel"]) == (
        '\'=HYPERLINK("//quay","open")',
        "'@SUM(A1)",
        "'+44 stall",
    )


# Who may, and how much it asks of the database


def test_a_helper_who_sees_no_money_sells_and_sees_only_what_the_buyer_paid(helper: User) -> None:
    make_rates(wage_per_hour=money(12))
    channel = make_channel(commission=350_000)
    piece, client = a_piece(state=State.FOR_SALE, price="45.00"), as_user(helper)
    address = reverse("costing:sell", args=[piece.pk])
    assert "lowest" not in text_of(client.get(address))
    page = client.post(address, till(channel), follow=True)
    words = text_of(page)
    assert "Paid by the buyer £45.00" in words
    for hidden in (
        "£15.75",
        "£29.25",
        "£5.50",
        "£23.75",
        "Profit",
        "Net proceeds",
        "Total",
    ):  # fee, left, cost, profit, and a last line without figures
        assert hidden not in words
    for address in ("costing:sales",):
        assert "£" not in text_of(client.get(reverse(address)))


def test_the_bookkeeper_reads_the_sales_and_sells_nothing(bookkeeper: User) -> None:
    sale, client = sold(), as_user(bookkeeper)
    assert "£45.00" in text_of(client.get(reverse("costing:sales")))
    assert client.get(reverse("costing:sales"), {"export": "csv"}).status_code == 200
    other = a_piece(title="Ebb", state=State.FOR_SALE)
    assert client.post(reverse("costing:sell", args=[other.pk]), till(sale.channel)).status_code == 403
    assert (
        client.post(reverse("costing:sale-return", args=[line_of(sale).pk]), {"key": KEY}).status_code == 403
    )
    assert line_of(sale).returned_on is None


def test_strangers_are_sent_to_the_door(stranger: User) -> None:
    for client in (Client(), as_user(stranger)):
        for asked in ({}, {"export": "csv"}):
            answer = client.get(reverse("costing:sales"), asked)
            assert answer["Location"].startswith(reverse("login"))


def test_a_hostile_name_is_written_as_text(signed: Client) -> None:
    sale = sold(NASTY, channel=make_channel(NASTY), note=NASTY)
    for address in (reverse("costing:sales"), reverse("costing:sale-return", args=[line_of(sale).pk])):
        page = signed.get(address).content.decode()
        assert NASTY not in page
        assert "&lt;script&gt;" in page


@pytest.mark.parametrize("asked", [{}, {"export": "csv"}])
def test_the_number_of_queries_does_not_grow_with_the_sales(signed: Client, asked: dict[str, str]) -> None:
    def count(more: int) -> int:
        for number in range(more):
            sold(f"Piece {number}")
        with CaptureQueriesContext(connection) as queries:
            assert signed.get(reverse("costing:sales"), asked).status_code == 200
        return len(queries)

    count(1)
    assert count(2) == count(9)


def test_a_posting_of_a_sale_is_taken_back_only_by_the_return(signed: Client) -> None:
    """The ledger page does not offer it, because the piece would not be freed."""
    sale = sold()
    page = signed.get(reverse("inventory:posting", args=[line_of(sale).posting_id]))
    assert "record a return of the piece instead" in text_of(page)


def test_only_who_sees_money_is_shown_which_sale_made_a_loss(signed: Client, helper: User) -> None:
    """The piece costs more than it brought: said by a colour alone, it would tell a helper what things cost."""
    sale = sold(price="1.00")
    for path in (reverse("costing:sales"), reverse("costing:sale", args=[sale.pk])):
        marked = {who: "is-low" in str(who.get(path).content) for who in (signed, as_user(helper))}
        assert list(marked.values()) == [True, False], path
