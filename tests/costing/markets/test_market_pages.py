"""The pages of market days, the packing list on paper, and the selling screen; who sees which money there."""

import pypdfium2
import pytest
from django.test import Client
from django.urls import reverse

from costing.locations.actions import Person, lend_piece
from costing.markets.actions.selling import quick_sale
from costing.markets.models import CashCount, MarketDay, PackedPiece
from costing.pieces.models import Piece
from costing.pricing.models import SalesChannel
from costing.selling.actions import PieceSold
from studio.accounts.models import User
from studio.preferences.models import Studio
from tests.costing.markets.stories import make_market, pack_into, pieces_for_sale
from tests.costing.pages import KEY, MONEY, NASTY, as_user, text_of
from tests.costing.stories import LATER, make_channel, use_rates
from tests.inventory.browsing import queries
from tests.making import make_submission, money

pytestmark = pytest.mark.django_db


@pytest.fixture
def market() -> MarketDay:
    """Four pieces for sale, two of them packed; one was sold for cash at 45.00."""
    use_rates(wage="10.00", overhead="0.00")
    market, pieces = make_market(), pieces_for_sale(4)
    pack_into(market, *pieces[:2])
    line = PieceSold(pieces[0], money(45))
    quick_sale(market=market, lines=[line], paid_by="cash", submission=make_submission(on=LATER))
    return market


def test_the_first_market_day_begins_with_the_channels_of_the_starter_set(owner: User) -> None:
    cash, card = make_channel("Market stall, cash"), make_channel("Market stall, card")
    make_channel("Market stall, cheque")
    form = as_user(owner).get(reverse("costing:market-new")).context["form"]
    assert [form[f"{way}_channel"].value() for way in ("cash", "card")] == [cash.pk, card.pk]


def test_a_market_day_without_a_cash_channel_leads_to_adding_one(owner: User) -> None:
    SalesChannel.objects.all().delete()
    new, add = reverse("costing:market-new"), reverse("costing:channel-new")
    assert f'href="{add}"' in as_user(owner).get(new).content.decode()
    make_channel()
    assert f'href="{add}"' not in as_user(owner).get(new).content.decode()


def test_a_market_day_is_written_and_the_next_begins_like_it(owner: User, market: MarketDay) -> None:
    client, new = as_user(owner), reverse("costing:market-new")
    form = client.get(new).context["form"]
    assert form["distance"].value() == "10 km"
    assert form["minutes"].value() == "7:00"
    typed = {
        "name": NASTY,
        "held_on": "2025-06-20",
        "card_channel": market.card_channel_id,
        "pitch_fee": "12.50",
        "travel_sum": "3.20",
        "minutes": "4:15",
        "till_float": "0",
    }
    assert client.post(new, typed | {"minutes": "4:99"}).status_code == 422
    assert client.post(new, typed | {"minutes": "0.123"}).status_code == 422
    page = client.post(new, typed, follow=True)
    made = MarketDay.objects.get(name=NASTY)
    assert (made.minutes, made.travel, made.pitch_fee) == (255, money("3.20"), money("12.50"))
    assert NASTY not in page.content.decode()
    refused = client.post(new, typed)
    assert refused.status_code == 422
    assert "held_on" in refused.context["form"].errors


def test_the_page_says_whether_it_paid_and_a_helper_sees_no_money_there(
    owner: User, helper: User, market: MarketDay
) -> None:
    address = reverse("costing:market", args=[market.pk])
    context = as_user(owner).get(address).context
    # 45.00 less 5.50 of cost; 20.00 of pitch, 4.00 of travel, 70.00 of work.
    assert (context["result"].profit, context["expected"]) == (-money("54.50"), money(95))
    words = text_of(as_user(owner).get(address))
    assert "−£54.50" in words
    assert "2 packed, 1 sold, 1 left, 0 missing" in words
    words = text_of(as_user(helper).get(address))
    assert not MONEY.search(words)
    assert "Tide 2" in words
    assert not MONEY.search(text_of(as_user(helper).get(reverse("costing:markets"))))


def test_a_day_that_lost_money_is_marked_whether_or_not_anything_was_sold(owner: User) -> None:
    make_market()
    page = as_user(owner).get(reverse("costing:markets")).content.decode()
    assert page.count('<tr class="is-low">') == 1


def test_cash_is_counted_on_its_page(owner: User, market: MarketDay) -> None:
    address = reverse("costing:market-cash", args=[market.pk])
    client = as_user(owner)
    typed = {"key": KEY, "counted": "94.00", "paid_out": "0"}
    assert client.post(address, typed | {"counted": "-1"}).status_code == 422
    assert not CashCount.objects.exists()
    words = text_of(client.post(address, typed, follow=True))
    assert CashCount.objects.get().difference == -money(1)
    assert "Too little" in words


def test_pieces_are_packed_taken_out_and_missed_on_the_pages(helper: User, market: MarketDay) -> None:
    client, address = as_user(helper), reverse("costing:market-packing", args=[market.pk])
    page = client.get(address)
    free = page.context["free"]
    assert [piece.title for piece in free] == ["Tide 3", "Tide 4"]
    assert client.post(address, {"box": NASTY}).status_code == 422
    client.post(address, {"box": NASTY, "pieces": [piece.pk for piece in free]})
    assert NASTY not in client.get(address).content.decode()
    packed = PackedPiece.objects.get(piece=free[0])
    client.post(reverse("costing:packed-missing", args=[packed.pk]), {"missing": "yes"})
    packed.refresh_from_db()
    assert packed.is_missing
    client.post(reverse("costing:packed-missing", args=[packed.pk]), {"missing": "no"})
    client.post(reverse("costing:packed-unpack", args=[packed.pk]))
    assert not PackedPiece.objects.filter(pk=packed.pk).exists()


@pytest.mark.parametrize("paper", ["A4", "A5", "Letter"])
def test_the_packing_list_is_printed_by_box(owner: User, market: MarketDay, paper: str) -> None:
    address = reverse("costing:market-packing-paper", args=[market.pk])
    answer = as_user(owner).get(address, {"paper": paper})
    with pypdfium2.PdfDocument(answer.content) as pdf:
        words = pdf[0].get_textpage().get_text_range()
    assert all(text in words for text in ("Blue crate: 2 pieces", "Tide 1", "Tide 2", "£45.00"))
    assert as_user(owner).get(address, {"paper": "A9"}).status_code == 302


def test_the_selling_screen_shows_asking_prices_and_no_cost(
    owner: User, helper: User, market: MarketDay
) -> None:
    packed = PackedPiece.objects.get(piece__title="Tide 2")
    for user in (owner, helper):
        answer = as_user(user).get(reverse("costing:stall"))
        assert next(piece.title for piece, _price, _away in answer.context["goods"]) == packed.piece.title
        assert "£45.00" in text_of(answer)
        assert "5.50" not in answer.content.decode()
        assert "camera=(self)" in answer.headers["Permissions-Policy"]
    assert "data-floor" not in as_user(helper).get(reverse("costing:stall")).content.decode()


def test_the_selling_screen_says_which_pieces_may_not_be_at_the_stall(owner: User, market: MarketDay) -> None:
    unpacked = Piece.objects.filter(title__in=["Tide 3", "Tide 4"]).order_by("title")
    lend_piece(piece=unpacked[0], to=Person(new_name="Wenda Tarpot"), submission=make_submission(on=LATER))
    answer = as_user(owner).get(reverse("costing:stall"))
    said = {piece.title: str(away) for piece, _price, away in answer.context["goods"]}
    assert said == {"Tide 2": "", "Tide 3": "lent", "Tide 4": "not packed"}


def test_without_a_market_day_the_selling_screen_says_what_to_do(owner: User) -> None:
    answer = as_user(owner).get(reverse("costing:stall"))
    assert answer.context["market"] is None
    assert reverse("costing:market-new") in answer.content.decode()


def test_the_screen_can_be_put_on_a_phone() -> None:
    """W3C Web Application Manifest: name, start_url, display and icons."""
    answer = Client().get(reverse("costing:stall-manifest"))
    assert answer.headers["Content-Type"] == "application/manifest+json"
    body = answer.json()
    assert (body["start_url"], body["display"], body["scope"]) == ("/stall/", "standalone", "/")
    assert {icon["purpose"] for icon in body["icons"]} == {"any", "maskable"}


def test_the_pages_ask_no_more_of_the_database_for_more_rows(owner: User, market: MarketDay) -> None:
    client = as_user(owner)
    addresses = [
        reverse("costing:markets"),
        reverse("costing:stall"),
        *(reverse(f"costing:{name}", args=[market.pk]) for name in ("market", "market-packing")),
    ]
    before = [queries(client, address) for address in addresses]
    pieces = pieces_for_sale(6)
    pack_into(market, *pieces[:4], box="Long box")
    lines = [PieceSold(piece, money(45)) for piece in pieces[:2]]
    quick_sale(market=market, lines=lines, paid_by="cash", submission=make_submission(on=LATER))
    make_market(on=LATER, cash_channel=make_channel("Ebb, cash"), card_channel=None)
    assert [queries(client, address) for address in addresses] == before


@pytest.mark.parametrize(
    ("locale", "typed", "kept", "unit"),
    [
        ("en-GB", "15", 15_000, "mi"),
        ("en-US", "15.5 miles", 15_500, "mi"),
        ("en-GB", "24 km", 24_000, "km"),
        ("de-DE", "24", 24_000, "km"),
        ("de-DE", "24,5 Meilen", 24_500, "mi"),
    ],
)
def test_a_trip_is_kept_exactly_as_it_was_typed(
    owner: User, locale: str, typed: str, kept: int, unit: str
) -> None:
    Studio.objects.update(locale=locale)
    client, new = as_user(owner), reverse("costing:market-new")
    channel, rate = make_channel(), "0,45" if locale == "de-DE" else "0.45"
    sent = {
        "name": "Quay",
        "held_on": "2025-06-20",
        "cash_channel": channel.pk,
        "pitch_fee": "0",
        "distance": typed,
        "distance_rate": rate,
        "minutes": "0",
        "till_float": "0",
    }
    assert client.post(new, sent | {"distance": "15 leagues"}).status_code == 422
    assert client.post(new, sent).status_code == 302
    made = MarketDay.objects.get()
    assert (made.distance, made.distance_unit) == (kept, unit)
    assert made.travel == kept * 450  # 45 pence for each
    form = client.get(reverse("costing:market-edit", args=[made.pk])).context["form"]
    assert form["distance"].value().endswith(f" {unit}")
    assert form.fields["distance_rate"].label.startswith("Rate per mile" if unit == "mi" else "Rate per km")
    assert client.get(new).context["form"]["distance"].value() == form["distance"].value()
