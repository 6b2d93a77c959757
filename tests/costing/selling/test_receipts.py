"""Receipts and credit notes on paper: what was paid and given back, for whoever sells, without cost or fee."""

import re
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from hypothesis import given, settings
from hypothesis import strategies as st

from costing.contacts.actions import add_contact
from costing.pieces.calculations import State
from costing.selling.actions import PieceSold, RefundFacts, SaleFacts, refund_line, return_sale, sell_together
from costing.selling.models import Refund, Sale
from costing.selling.queries import sale_figures, with_lines
from costing.selling.receipts import receipt_of
from studio.accounts.models import User
from studio.papers.frame import PageFrame, paper_named
from studio.papers.lines import Line, LinesPaper, draw_lines
from studio.preferences.models import Studio
from tests.costing.markets.stories import make_market
from tests.costing.pages import NASTY, as_user, text_of
from tests.costing.stories import LATER, a_piece, make_channel, use_rates
from tests.days import june
from tests.making import make_bookkeeper, make_helper, make_submission, money
from tests.programs import Program
from tests.studio.papers.test_paper import assert_inside_margins, read_pages

pytestmark = pytest.mark.django_db


def number_receipts() -> None:
    studio = Studio.current()
    studio.name, studio.numbers_receipts = "Wrackline Studio", True
    studio.delivery_address = "The Net Loft\nLantern Quay"
    studio.save()


def a_sale(*, titles: tuple[str, ...] = ("Ebb", "Flood"), buyer: str = "", **facts: Any) -> Sale:
    """Pieces at 40.00, the first for 5.00 less; 20% tax, a card at 1.75%, postage of 6.00."""
    number_receipts()
    use_rates(tax_rate=200_000)
    pieces = [a_piece(title=title, state=State.FOR_SALE) for title in titles]
    contact = None
    if buyer:
        contact = add_contact(name=buyer, reach="2 Buoy Lane", submission=make_submission())
    usual = {"postage": money(6), "postage_paid": money("4.85"), "buyer": contact}
    return sell_together(
        lines=[PieceSold(piece, money(40), 0 if place else money(5)) for place, piece in enumerate(pieces)],
        channel=make_channel(card_rate=17_500),
        facts=SaleFacts(**usual | facts),
        submission=make_submission(on=LATER),
    )


def printed(client: Client, name: str, pk: int, paper: str = "A4") -> str:
    response = client.get(reverse(f"costing:{name}", args=[pk]), {"paper": paper})
    assert response.headers["Content-Type"] == "application/pdf"
    return " ".join(read_pages(response.content))


def test_a_receipt_says_what_was_bought_and_paid_and_nothing_of_cost_or_fees(owner: User) -> None:
    sale = a_sale(buyer="Ferry master")
    words = printed(as_user(owner), "sale-receipt", sale.pk)
    # 75.00 and 6.00 of postage; a sixth of 81.00 is 13.50 (VAT fraction, HM Revenue & Customs, VAT Notice 700).
    for part in (
        "Invoice 1", "Wrackline Studio", "Lantern Quay", "Ferry master", "2 Buoy Lane", "Ebb", "Flood", "Cash",
        "£80.00", "−£5.00", "£6.00", "Total £81.00", "Tax included (20%) £13.50",
        "Decorative: not for food or drink, and not for hot cups.",
    ):  # fmt: skip
        assert part in words
    # cost of a piece, card fee, postage paid
    assert not {"5.50", "1.42", "4.85"} & set(re.findall(r"\d+\.\d\d", words))


def test_a_studio_that_charges_no_tax_and_numbers_nothing_prints_neither(owner: User) -> None:
    piece = a_piece(title="Ebb", state=State.FOR_SALE)
    sale = sell_together(
        lines=[PieceSold(piece, money(40))], channel=make_channel(), submission=make_submission(on=LATER)
    )
    words = printed(as_user(owner), "sale-receipt", sale.pk)
    assert "Tax" not in words
    assert f"Sale {sale.pk}" in words
    assert "Discount" not in words


def test_a_refund_has_its_credit_note_and_the_receipt_stays_as_it_was(owner: User) -> None:
    sale, client = a_sale(), as_user(owner)
    before = printed(client, "sale-receipt", sale.pk)
    refund = refund_line(
        line=sale.lines.all()[0],
        facts=RefundFacts(money(12), note="she was cross"),
        submission=make_submission(on=june(10)),
    )
    words = printed(client, "refund-credit-note", refund.pk)
    for part in ("Credit note 1", "Receipt 1", "Ebb", "Total £12.00", "Tax included (20%) £2.00"):
        assert part in words
    assert "Flood" not in words
    assert "cross" not in words
    assert printed(client, "sale-receipt", sale.pk) == before
    return_sale(sale=sale, submission=make_submission(on=june(10)))
    numbers = list(Refund.objects.order_by("pk").values_list("number", flat=True))
    assert numbers == [1, 2, 3]
    assert "The piece was returned" in printed(client, "refund-credit-note", Refund.objects.latest("pk").pk)


@pytest.mark.parametrize("paper", ["A4", "A5", "Letter"])
def test_everything_stays_inside_the_margins_of_every_paper(owner: User, paper: str) -> None:
    number_receipts()
    sale = a_sale(titles=("Ebb " * 30, *(f"Tide {n}" for n in range(20))), buyer="Harbour master")
    response = as_user(owner).get(reverse("costing:sale-receipt", args=[sale.pk]), {"paper": paper})
    assert_inside_margins(response.content, paper_named(paper))
    assert len(read_pages(response.content)) > 1
    assert "Total" in read_pages(response.content)[-1]


def test_an_unknown_paper_or_sale_is_refused(owner: User) -> None:
    sale, client = a_sale(), as_user(owner)
    address = reverse("costing:sale-receipt", args=[sale.pk])
    assert client.get(address, {"paper": "wallpaper"}).headers["Location"] == f"/sales/{sale.pk}/"
    assert client.get(reverse("costing:sale-receipt", args=[sale.pk + 1])).status_code == 404
    assert client.get(reverse("costing:refund-credit-note", args=[1])).status_code == 404


def test_titles_are_drawn_as_they_were_typed(owner: User) -> None:
    sale = a_sale(titles=(NASTY,))
    assert NASTY in printed(as_user(owner), "sale-receipt", sale.pk)


def test_a_helper_prints_what_was_paid_and_a_bookkeeper_sees_no_name(db: None) -> None:
    sale = a_sale(buyer="Ferry master")
    assert "Ferry master" in printed(as_user(make_helper()), "sale-receipt", sale.pk)
    words = printed(as_user(make_bookkeeper()), "sale-receipt", sale.pk)
    assert "Total £81.00" in words
    assert "Ferry master" not in words


def test_an_erased_buyer_is_on_no_receipt(owner: User) -> None:
    sale = a_sale(buyer="Ferry master")
    assert sale.buyer is not None
    as_user(owner).post(reverse("costing:contact-erase", args=[sale.buyer.pk]), {"seen": "999999"})
    words = printed(as_user(owner), "sale-receipt", sale.pk)
    assert "Ferry master" not in words
    assert "Total £81.00" in words


def test_the_sale_and_the_market_day_lead_to_the_receipt(owner: User) -> None:
    market, client = make_market(), as_user(owner)
    piece = a_piece(title="Ebb", state=State.FOR_SALE)
    assert market.cash_channel is not None
    sale = sell_together(
        lines=[PieceSold(piece, money(40))],
        channel=market.cash_channel,
        submission=make_submission(on=market.held_on),
    )
    address = reverse("costing:sale-receipt", args=[sale.pk])
    for name, pk in (("sale", sale.pk), ("market", market.pk)):
        assert address in client.get(reverse(f"costing:{name}", args=[pk])).content.decode()
    refund = refund_line(
        line=sale.lines.get(), facts=RefundFacts(money(1)), submission=make_submission(on=LATER)
    )
    page = client.get(reverse("costing:sale", args=[sale.pk]))
    assert reverse("costing:refund-credit-note", args=[refund.pk]) in page.content.decode()
    assert "Credit note (PDF)" in text_of(page)


def test_programs_read_what_a_receipt_says(owner: User) -> None:
    sale = a_sale()
    refund_line(
        line=sale.lines.all()[0], facts=RefundFacts(money(12)), submission=make_submission(on=june(10))
    )
    answer = Program(make_helper()).read(f"sales/{sale.pk}/receipt/")
    assert {name: answer[name] for name in ("number", "discount", "postage", "total", "tax", "paid")} == {
        "number": 1, "discount": "5.000000", "postage": "6.000000", "total": "81.000000", "tax": "13.500000",
        "paid": "Cash",
    }  # fmt: skip
    assert [(note["number"], note["amount"], note["tax"]) for note in answer["credit_notes"]] == [
        (1, "12.000000", "2.000000")
    ]
    assert [line["full_price"] for line in answer["lines"]] == ["40.000000"] * 2


@settings(max_examples=25, deadline=None)
@given(st.lists(st.tuples(st.text(max_size=40), st.text(max_size=20)), max_size=6), st.integers(0, 30))
def test_a_paper_takes_any_words(amounts: list[tuple[str, str]], lines: int) -> None:
    written = LinesPaper(
        addresses=[],
        facts=[],
        name_head="Piece",
        heads=["Price"],
        shares=[0.22],
        lines=[Line("Ebb", "", ["£1.00"])] * lines,
        sums=amounts,
        total="£1.00",
        after=amounts,
    )
    assert draw_lines(written, PageFrame("Wrackline Studio", "Receipt"), paper="A5").startswith(b"%PDF")


def test_the_words_of_a_receipt_add_up(db: None) -> None:
    sale = a_sale(discount=money("3.33"))
    [figures] = sale_figures(with_lines(Sale.objects.filter(pk=sale.pk)), "GBP")
    assert figures.full_prices - figures.discount + figures.postage_charged == figures.charged
    written = receipt_of(figures, Studio.current(), buyer=None)
    assert [term for term, _amount in written.sums] == ["Prices", "Discount", "Postage"]


def test_a_receipt_speaks_the_studios_language_whoever_prints_it(owner: User) -> None:
    sale = a_sale()
    owner.language = "de"
    owner.save()
    words = printed(as_user(owner), "sale-receipt", sale.pk)
    assert "Receipt 1" in words
    assert "Total £81.00" in words
