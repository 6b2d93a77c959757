"""The prices of many pieces on one page: suggested, previewed, saved together, and loud where they are below cost."""

from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from costing.pieces.calculations import State
from costing.pieces.models import Piece
from costing.pieces.queries import price_history, with_parts
from costing.pricing.methods import Method, Rules
from costing.pricing.price_sheet import Market, price_sheet, priced_below_cost
from studio.accounts.models import User
from tests.costing.pages import as_user, text_of
from tests.costing.stories import a_piece, make_channel
from tests.making import make_helper, money

pytestmark = pytest.mark.django_db
PRICES = "/prices/"


def sent(*prices: tuple[Piece, str], seen: int = 10**6) -> dict[str, Any]:
    data: dict[str, Any] = {"prices-TOTAL_FORMS": len(prices), "prices-INITIAL_FORMS": 0}
    for number, (piece, price) in enumerate(prices):
        row = {"piece": piece.pk, "price": price, "seen": seen}
        data |= {f"prices-{number}-{name}": value for name, value in row.items()}
    return data


def priced(title: str, price: str | None, **facts: Any) -> Piece:
    piece = a_piece(title=title, price=price, state=State.FOR_SALE)
    Piece.objects.filter(pk=piece.pk).update(**facts)
    piece.refresh_from_db()
    return piece


def test_a_price_that_is_below_cost_somewhere_is_named_with_the_channels() -> None:
    """Cost 5.50. Of 8.00 a gallery on 40 % leaves 4.80: too little there, enough on the stall."""
    make_channel("Stall")
    make_channel("Gallery", commission=400_000)
    low, fine = priced("Low", "8.00"), priced("Fine", "12.00")
    assert priced_below_cost([low, fine], timezone.localdate(), galleries={}) == [(low, ("Gallery",))]


def test_every_way_names_a_price_that_leaves_what_it_promises() -> None:
    gallery = make_channel("Gallery", commission=400_000)
    pieces = list(with_parts(Piece.objects.filter(pk=priced("Ebb", None).pk)))
    market = Market.on(timezone.localdate())
    (row,) = price_sheet(pieces, gallery, market, rules=Rules(), method=Method.MARGIN)
    assert row.floor == money("9.16")
    assert row.usual.method == Method.MARGIN
    for way in row.ways:
        promised = (way.left or row.cost.whole) - row.cost.whole
        assert market.profit(way.price, row.cost.whole, gallery) == way.profit >= promised


def test_suggestions_stand_in_the_fields_and_nothing_changes_until_they_are_saved(owner: User) -> None:
    make_channel("Stall")
    piece = priced("Ebb", "40.00")
    client = as_user(owner)
    response = client.get(PRICES, {"change": "5 %"})
    assert 'value="42.00"' in response.content.decode()
    assert "Nothing changes until you save them" in text_of(response)
    piece.refresh_from_db()
    assert piece.price == money(40)
    answer = client.post(f"{PRICES}?change=5+%25", sent((piece, "42.00")))
    assert (answer.status_code, answer.headers["Location"]) == (
        302,
        f"{PRICES}?",
    )  # no 5% more upon what was saved
    piece.refresh_from_db()
    assert piece.price == money(42)
    assert [(change.old, change.new) for change in price_history(piece)] == [(money(40), money(42))]


def test_a_whole_series_goes_up_together(owner: User) -> None:
    make_channel("Stall")
    first, second = priced("Ebb 1", "40.00", series="Ebb"), priced("Ebb 2", "45.00", series="Ebb")
    priced("Neap", "50.00")
    page = as_user(owner).get(PRICES, {"series": "Ebb", "change": "5 %"})
    assert [form.row.piece for form in page.context["formset"].forms] == [first, second]
    assert [form["price"].value() for form in page.context["formset"].forms] == ["42.00", "48.00"]


def test_a_larger_piece_of_a_series_that_is_cheaper_is_pointed_out(owner: User) -> None:
    make_channel("Stall")
    priced("Small", "60.00", series="Ebb")
    large = priced("Large", "40.00", series="Ebb")
    large.parts.get().pour.__class__.objects.filter(pk=large.pours[0].pk).update(area=10**7)
    assert "Cheaper than the smaller “Small”" in text_of(as_user(owner).get(PRICES))


def test_a_price_below_cost_is_saved_and_said_loudly_here_and_before_the_list_is_printed(owner: User) -> None:
    make_channel("Stall")
    piece, client = priced("Ebb", "40.00"), as_user(owner)
    said = text_of(client.post(PRICES, sent((piece, "2.00")), follow=True))
    assert "Below cost on at least one sales channel: “Ebb”" in said
    assert "Below cost on every sales channel" in said
    assert "look at these before you print" in text_of(client.get(reverse("costing:price-list")))


def test_one_wrong_price_saves_none_and_says_which(owner: User) -> None:
    make_channel("Stall")
    first, second = priced("Ebb", "40.00"), priced("Flood", "40.00")
    response = as_user(owner).post(PRICES, sent((first, "41.00"), (second, "dear")))
    assert response.status_code == 422
    assert "Piece 2, New price (GBP):" in text_of(response)
    assert set(Piece.objects.values_list("price", flat=True)) == {money(40)}


def test_a_price_that_somebody_else_changed_meanwhile_is_not_lost(owner: User) -> None:
    make_channel("Stall")
    piece, client = priced("Ebb", "40.00"), as_user(owner)
    seen = client.get(PRICES).context["formset"].forms[0]["seen"].value()
    client.post(PRICES, sent((piece, "44.00")))
    refused = client.post(PRICES, sent((piece, "48.00"), seen=seen))
    assert refused.status_code == 422
    assert "was changed while you were editing" in text_of(refused)
    piece.refresh_from_db()
    assert piece.price == money(44)


def test_without_a_channel_the_page_says_what_to_do(owner: User) -> None:
    priced("Ebb", "40.00")
    assert "Add your sales channels" in text_of(as_user(owner).get(PRICES))


def test_helpers_without_money_have_no_prices_page() -> None:
    assert as_user(make_helper()).get(PRICES).status_code == 403


def test_the_page_asks_the_database_as_often_for_nine_pieces_as_for_two(owner: User) -> None:
    make_channel("Stall")
    client = as_user(owner)
    counts = []
    for number in (2, 7):
        for each in range(number):
            priced(f"Tide {number} {each}", "40.00", series=f"Series {number}")
        client.get(PRICES)
        with CaptureQueriesContext(connection) as asked:
            client.get(PRICES)
        counts.append(len(asked))
    assert counts[0] == counts[1]


def test_a_program_reads_and_sets_prices(owner: User) -> None:
    make_channel("Gallery", commission=400_000)
    make_channel("Stall")
    piece, client = priced("Ebb", "8.00"), as_user(owner)
    (row,) = client.get("/api/prices/").json()["results"]
    assert (row["title"], row["floor"], row["below_cost_on"]) == ("Ebb", "9.160000", ["Gallery"])
    assert [way["method"] for way in row["ways"]] == ["markup", "margin", "wage", "area", "sides", "retail"]
    body = {"prices": [{"piece": piece.pk, "price": "20.00"}]}
    (row,) = client.post("/api/prices/", body, content_type="application/json").json()["prices"]
    assert (row["price"], row["below_cost_on"]) == ("20.000000", [])
    assert client.get("/api/prices/", {"channel": 999_999}).status_code == 400
