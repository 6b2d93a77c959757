"""Prices channel by channel: floors that really pay after rounded fees, and sizes compared."""

import re
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given
from hypothesis import settings as examples
from hypothesis import strategies as st

from costing.papers.queries import price_list_heading
from costing.pieces.calculations import State
from costing.pieces.models import Piece
from costing.pricing.arithmetic import sum_with_markup, sums_by_channel
from costing.pricing.calculations import Channel
from costing.pricing.models import Payment, PriceRules, SalesChannel
from costing.pricing.queries import NOT_ADVICE, least_price, price_advice, proceeds_of, size_warnings
from costing.pricing.queries import SizePrice as Sized
from inventory.sessions.models import Technique
from studio.accounts.models import User
from studio.preferences.formatting import Formatter
from studio.preferences.models import Studio
from tests.costing.pages import as_user, page_of, text_of
from tests.costing.stories import POURED_ON, a_piece, make_channel, use_rates
from tests.days import TODAY
from tests.making import make_delivery, make_material, make_session, make_surface, money, pour_of

pytestmark = pytest.mark.django_db


def a_square(
    side: int, price: str | None, title: str, *, technique: str = "Ring pour", state: State = State.FOR_SALE
) -> Piece:
    """A piece on a square of so many centimetres, without painted sides."""
    surface, paint = make_surface(height=side * 1_000, width=side * 1_000, depth=None), make_material()
    make_delivery(lines=[(surface, 1_000, money(2)), (paint, 100_000, money(1))], on=POURED_ON)
    session = make_session(pours=[pour_of(material=paint, quantity=1_000, surface=surface)], on=POURED_ON)
    session.pours.update(technique=Technique.objects.get(name=technique))
    return a_piece(pours=session.pours.all(), title=title, price=price, state=state)


def test_each_active_route_gets_a_floor_and_a_price_with_the_wanted_profit() -> None:
    """Cost 5.50, 30% wanted: 7.15. Stall: no fees. Gallery at 40%: of 9.16 it takes 3.66, of 11.91 it takes 4.76."""
    make_channel("Stall")
    make_channel("Gallery", commission=400_000)
    SalesChannel.objects.create(name="Old shop", is_active=False)
    advice = price_advice(a_piece(price="45.00"), on=TODAY)
    gallery, stall = advice.channels
    assert advice.cost == money("5.50")
    assert (stall.floor, stall.wanted, stall.wanted_whole, stall.wanted_fives, stall.profit) == (
        money("5.50"), money("7.15"), money(8), money(10), money("39.50"),
    )  # fmt: skip
    assert (gallery.floor, gallery.wanted, gallery.wanted_whole, gallery.profit) == (
        money("9.16"), money("11.91"), money(12), money("21.50"),
    )  # fmt: skip


def test_the_page_of_a_piece_says_how_each_suggested_price_comes_about(owner: User) -> None:
    """Cost 5.50 and 30% markup; of the price with it, 20% tax is taken off, then 40% by the gallery."""
    use_rates(wage="0", overhead="0", tax_rate=200_000)
    make_channel("Stall")
    make_channel("Gallery", commission=400_000)
    words = text_of(as_user(owner).get(page_of(a_piece(price="45.00")))).replace("\xa0", " ")
    assert "this must be left: £5.50 to cover + £1.65 markup = £7.15" in words
    assert "Lowest price £6.60 − £1.10 tax = £5.50 left" in words
    assert "With markup £8.58 − £1.43 tax = £7.15 left" in words
    assert re.search(r"With markup £[\d.]+ − £[\d.]+ tax − £[\d.]+ commission = £7.1[5-9] left", words)


@pytest.mark.parametrize("tax", [0, 200_000])
def test_the_sum_of_a_suggested_price_adds_up_as_printed(tax: int) -> None:
    use_rates(wage="13.37", overhead="2.99", tax_rate=tax)
    make_channel("Stall", card_rate=16_900, fixed_fee=money("0.20"))
    make_channel("Gallery", commission=333_333)
    advice, formatter = price_advice(a_piece(), on=TODAY), Formatter.of(Studio.current())
    sums = [text for each in sums_by_channel(advice.channels, formatter) for _label, text in each.lines]
    for text in [*sums, sum_with_markup(advice, formatter)]:
        first, total = text.split(" = ")
        pence = [
            Decimal(amount) * (-1 if sign == "−" else 1)
            for sign, amount in re.findall(r"([−+]?) ?£([\d.,]+)", first)
        ]
        assert sum(pence) == Decimal(re.findall(r"£([\d.,]+)", total)[0]), text


def test_the_advice_starts_from_the_studios_own_markup_and_takes_another(owner: User) -> None:
    """Cost 5.50: 7.43 with 35%, which is 7.425 rounded up; 8.25 with half of it; 7.21 with 31%, which is 7.205."""
    make_channel("Stall")
    PriceRules(pk=1, markup=350_000).save()
    piece, page = a_piece(), as_user(owner)
    shown = {
        asked: page.get(page_of(piece), {"profit": asked}).context["advice"].channels[0].wanted
        for asked in ("", "50", "31.0", "much")
    }
    assert shown == {"": money("7.43"), "50": money("8.25"), "31.0": money("7.21"), "much": money("7.43")}


def test_hours_are_charged_at_the_studios_own_rate_until_another_is_chosen() -> None:
    assert PriceRules.current().wage == money(15)
    use_rates(wage="12.00")
    assert PriceRules.current().wage == money(12)
    PriceRules(pk=1, wage=money(20)).save()
    assert PriceRules.current().wage == money(20)


def test_the_floor_counts_tax_card_and_fixed_fee() -> None:
    """10.81 less tax 1.80, commission 3.15, card 0.16 and the fixed 0.20 leaves 5.50 to the penny."""
    use_rates(tax_rate=200_000)
    make_channel(commission=350_000, card_rate=15_000, fixed_fee=money("0.20"))
    (channel,) = price_advice(a_piece(), on=TODAY).channels
    assert channel.floor == money("10.81")
    assert channel.profit is None


def test_a_route_that_leaves_nothing_is_named_and_spoils_no_other() -> None:
    make_channel("Stall")
    make_channel("Greedy shop", commission=1_000_000)
    advice = price_advice(a_piece(price="45.00"), on=TODAY)
    assert [channel.channel.name for channel in advice.channels] == ["Stall"]
    assert [channel.name for channel, _reason in advice.problems] == ["Greedy shop"]
    assert "Check the sales channel's rates" in advice.problems[0][1]


@examples(max_examples=60)
@given(
    wanted=st.integers(min_value=0, max_value=10**9),
    commission=st.integers(min_value=0, max_value=600_000),
    card_rate=st.integers(min_value=0, max_value=50_000),
    fixed_fee=st.integers(min_value=0, max_value=2_000_000),
    tax_rate=st.sampled_from([0, 50_000, 190_000, 200_000]),
    before_tax=st.booleans(),
    currency=st.sampled_from(["GBP", "JPY", "KWD"]),
)
def test_the_least_price_pays_after_every_fee_is_rounded(
    wanted: int,
    commission: int,
    card_rate: int,
    fixed_fee: int,
    tax_rate: int,
    before_tax: bool,
    currency: str,
) -> None:
    charges = Channel(commission, card_rate, fixed_fee, tax_rate, commission_on_net=before_tax)
    price = least_price(wanted, charges, currency)
    going = proceeds_of(price, charges, currency)
    assert going.net >= wanted
    assert going.net + going.vat + going.commission + going.card_fee + going.fixed_fee == price
    coin = {"GBP": 10_000, "JPY": 1_000_000, "KWD": 1_000}[currency]
    assert all(
        line % coin == 0 for line in (price, going.vat, going.commission, going.card_fee, going.fixed_fee)
    )
    lower = range(max(0, price - 400 * coin), price, coin)
    assert not any(proceeds_of(each, charges, currency).net >= wanted for each in lower)


def test_a_larger_piece_cheaper_than_a_smaller_one_is_pointed_out() -> None:
    make_channel()
    small, large = a_square(20, "40.00", "Small tide"), a_square(30, "35.00", "Large tide")
    a_square(40, "20.00", "Another technique", technique="Dutch pour")
    a_square(10, "90.00", "Not finished", state=State.DRY)
    a_square(25, None, "No price")
    for piece in (small, large):
        advice = price_advice(piece, on=TODAY)
        assert [(item.title, item.area, item.price, item.is_this) for item in advice.siblings] == [
            ("Small tide", 400_000, money(40), piece == small),
            ("Large tide", 900_000, money(35), piece == large),
        ]
        ((smaller, larger),) = advice.warnings
        assert (smaller.title, larger.title) == ("Small tide", "Large tide")


def test_prices_in_order_give_no_warning_and_twins_are_fine() -> None:
    rising = [Sized(1, "A", 100, 10), Sized(2, "B", 100, 12), Sized(3, "C", 200, 12), Sized(4, "D", 300, 50)]
    assert size_warnings(rising) == []
    assert [larger.title for _, larger in size_warnings([*rising, Sized(5, "E", 400, 49)])] == ["E"]


def test_the_caution_is_for_the_studio_and_not_on_what_buyers_read() -> None:
    heading = price_list_heading(studio=Studio.current(), on=POURED_ON)
    assert "not tax or legal advice" in NOT_ADVICE
    assert heading.tax_note == ""


@pytest.mark.parametrize(
    ("payment", "fees", "lacks"),
    [
        (Payment.CARD, {}, True),
        (Payment.GALLERY, {"commission": 0, "fixed_fee": 0}, True),
        (Payment.CARD, {"card_rate": 20_000}, False),
        (Payment.ONLINE, {"monthly_fee": 5_000_000}, False),
        (Payment.CASH, {}, False),
    ],
)
def test_a_lowest_price_says_where_no_fees_were_entered_yet(
    owner: User, payment: Payment, fees: dict[str, Any], lacks: bool
) -> None:
    channel = make_channel("Quay", **fees)
    SalesChannel.objects.filter(pk=channel.pk).update(payment=payment)
    piece = a_piece(state=State.FINISHED)
    page = as_user(owner).get(page_of(piece))
    [row] = page.context["advice"].channels
    assert row.terms.lacks_fees is lacks
    assert (f"/settings/channels/terms/new/?channel={channel.pk}" in page.content.decode()) is lacks
