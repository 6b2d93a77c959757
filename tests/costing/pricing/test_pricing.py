"""Mark-up, tax and the price floor, against a printed textbook, tax guidance and published advice.

Textbook: OpenStax, Contemporary Mathematics, "Markups and markdowns" (module m00058);
OpenStax, Contemporary Mathematics.
"""

from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from costing.errors import CostingError
from costing.pricing.calculations import (
    Channel,
    SizedPrice,
    as_taken,
    least_price,
    out_of_order,
    price_from_markup,
    proceeds,
    vat_in,
)
from studio.values.allocation import divide_half_up

PENNY = 10_000
POUND = 1_000_000


def money(text: str) -> int:
    """Turn a printed amount into millionths."""
    amount = Fraction(text) * POUND
    assert amount.denominator == 1
    return amount.numerator


def percent(text: str) -> int:
    return money(text) // 100


def to_pence(amount: int) -> int:
    return divide_half_up(amount, PENNY) * PENNY


@pytest.mark.parametrize(
    ("cost", "markup", "price"),
    [("62.00", "15", "71.30"), ("750.00", "45", "1087.50"), ("1.30", "60", "2.08")],
)
def test_a_price_from_cost_and_markup_is_the_textbooks(cost: str, markup: str, price: str) -> None:
    # OpenStax Contemporary Mathematics, m00058.
    assert price_from_markup(money(cost), percent(markup)) == money(price)


@pytest.mark.parametrize(
    ("gross", "rate", "tax"),
    [
        # Worked examples on British accountants' VAT pages; printed to the penny, half a penny rounding up
        # as HMRC's VAT Trader Records manual (VATREC12030) has retailers do.
        ("120", "20", "20.00"),
        ("24.00", "20", "4.00"),
        ("60", "20", "10.00"),
        ("80", "5", "3.81"),
        ("117.50", "17.5", "17.50"),
        ("24", "17.5", "3.57"),
        ("115", "15", "15.00"),
    ],
)
def test_the_tax_inside_a_price_is_the_published_one(gross: str, rate: str, tax: str) -> None:
    assert to_pence(vat_in(money(gross), percent(rate))) == money(tax)


def test_a_consignment_splits_as_in_the_textbook() -> None:
    # OpenStax Principles of Accounting Vol. 1, 10.1: sold for 15,000, the shop keeps a third: 10,000 and
    # 5,000.
    split = proceeds(15_000 * POUND, Channel(commission=333_333))
    assert divide_half_up(split.net, POUND) == 10_000
    assert divide_half_up(split.commission, POUND) == 5_000


def test_the_floor_takes_commission_on_the_price_before_tax() -> None:
    # (30 + 20 + 0.30) / ((1 - 0.30) / 1.20 - 0.02) = 50.30 / 0.563333... = 89.289940..., so 89.29
    # (arithmetic).
    channel = Channel(commission=300_000, card_rate=20_000, fixed_fee=300_000, vat_rate=200_000)
    assert least_price(30 * POUND + 20 * POUND, channel, minor_unit=1, step=PENNY) == money("89.29")


def test_the_floor_is_higher_when_commission_is_on_the_full_price() -> None:
    # 50.30 / (1 / 1.20 - 0.30 - 0.02) = 50.30 / 0.513333... = 97.987012..., so 97.99 (arithmetic).
    channel = Channel(300_000, 20_000, 300_000, 200_000, commission_on_net=False)
    assert least_price(30 * POUND + 20 * POUND, channel, minor_unit=1, step=PENNY) == money("97.99")


def test_without_fees_the_floor_is_the_cost_in_whole_pence() -> None:
    assert least_price(money("12.345678"), Channel(), minor_unit=1, step=PENNY) == money("12.35")
    assert least_price(money("12.34"), Channel(), minor_unit=1, step=PENNY) == money("12.34")
    assert least_price(0, Channel(), minor_unit=1, step=PENNY) == 0


def test_proceeds_show_where_a_price_goes() -> None:
    split = proceeds(120 * POUND, Channel(250_000, 20_000, 300_000, 200_000))
    assert (split.vat, split.commission, split.card_fee) == (20 * POUND, 25 * POUND, money("2.40"))
    assert split.net == money("72.30")


def test_a_suggestion_is_rounded_up_to_whole_pounds_or_fives() -> None:
    channel = Channel(commission=300_000, card_rate=20_000, fixed_fee=300_000, vat_rate=200_000)
    assert least_price(50 * POUND, channel, minor_unit=1, step=POUND) == 90 * POUND
    assert least_price(50 * POUND, channel, minor_unit=1, step=5 * POUND) == 90 * POUND
    assert least_price(51 * POUND, channel, minor_unit=1, step=5 * POUND) == 95 * POUND
    assert least_price(20 * POUND, Channel(), minor_unit=1, step=5 * POUND) == 20 * POUND


def test_it_refuses_a_route_that_leaves_nothing() -> None:
    with pytest.raises(CostingError, match="Check the sales channel's rates"):
        Channel(commission=990_000, card_rate=20_000)
    with pytest.raises(CostingError, match="negative"):
        Channel(commission=-1)


@pytest.mark.parametrize(
    "refused",
    [
        lambda: least_price(-1, Channel(), minor_unit=1, step=PENNY),
        lambda: least_price(1, Channel(), minor_unit=0, step=PENNY),
    ],
)
def test_it_refuses_figures_that_make_no_price(refused: Callable[[], int]) -> None:
    with pytest.raises(CostingError):
        refused()


def test_it_finds_larger_pieces_that_cost_less_than_smaller_ones() -> None:
    listed = [SizedPrice(900, 60), SizedPrice(400, 50), SizedPrice(600, 45), SizedPrice(1_600, 55)]
    assert out_of_order(listed) == [
        (SizedPrice(400, 50), SizedPrice(600, 45)),
        (SizedPrice(900, 60), SizedPrice(1_600, 55)),
    ]


def test_equal_sizes_may_differ_and_equal_prices_are_in_order() -> None:
    assert out_of_order([SizedPrice(1, 9), SizedPrice(1, 5), SizedPrice(2, 9)]) == []
    assert out_of_order([]) == []


channels = st.builds(
    Channel,
    commission=st.integers(0, 600_000),
    card_rate=st.integers(0, 50_000),
    fixed_fee=st.integers(0, 2 * POUND),
    vat_rate=st.sampled_from([0, 50_000, 175_000, 200_000, 250_000]),
    commission_on_net=st.booleans(),
)


@given(
    st.integers(0, 10**10),
    st.integers(0, 10**10),
    channels,
    st.sampled_from([1_000, PENNY, POUND, 5 * POUND]),
)
def test_the_floor_pays_cost_and_profit_and_one_coin_less_does_not(
    cost: int, profit: int, channel: Channel, coin: int
) -> None:
    assume(cost + profit + channel.fixed_fee > 0)
    floor = least_price(cost + profit, channel, minor_unit=1, step=coin)
    assert floor % coin == 0
    assert proceeds(floor, channel).net >= cost + profit
    assert floor == 0 or proceeds(floor - coin, channel).net < cost + profit


@given(st.integers(0, 3_000), channels, st.sampled_from([1_000, PENNY, POUND]), st.sampled_from([1, 1, 5]))
def test_no_lower_price_pays_when_fees_are_rounded_as_they_are_taken(
    coins: int, channel: Channel, coin: int, coins_a_step: int
) -> None:
    wanted, step = coins * coin // 7, coins_a_step * coin
    channel = replace(channel, fixed_fee=min(channel.fixed_fee, 20 * coin))
    assume(channel.kept_share > Fraction(1, 5))
    price = least_price(wanted, channel, minor_unit=coin, step=step)
    every_price = range(0, price + 1, step)  # exhaustive: from nothing up
    paying = (each for each in every_price if as_taken(each, channel, minor_unit=coin).net >= wanted)
    assert next(paying) == price


def test_a_price_two_coins_above_the_formula_pays_where_one_above_does_not() -> None:
    # Three lines of half a penny each round up: found by trying every price of this channel.
    channel = Channel(commission=125_000, card_rate=25_000, vat_rate=200_000)
    prices = [pence * PENNY for pence in range(2_000)]
    left = [as_taken(price, channel, minor_unit=PENNY).net for price in prices]
    assert any(later < earlier for earlier, later in pairwise(left)), "what is left does not always rise"
    for wanted in range(0, 10 * POUND, 37 * PENNY):
        expected = next(price for price, net in zip(prices, left, strict=True) if net >= wanted)
        assert least_price(wanted, channel, minor_unit=PENNY, step=PENNY) == expected


@given(st.integers(0, 10**11), channels)
def test_the_lines_of_a_price_add_up_and_follow_the_formula(price: int, channel: Channel) -> None:
    split = proceeds(price, channel)
    assert split.vat + split.commission + split.card_fee + split.fixed_fee + split.net == price
    assert abs(split.net - (price * channel.kept_share - channel.fixed_fee)) <= Fraction(3, 2)


@given(st.lists(st.builds(SizedPrice, st.integers(1, 50), st.integers(0, 50)), max_size=12))
def test_prices_are_in_order_exactly_when_no_pair_breaks_it(prices: list[SizedPrice]) -> None:
    breakers = {
        large for small in prices for large in prices if small.size < large.size and large.price < small.price
    }
    broken = out_of_order(prices)
    assert {large for _, large in broken} == breakers
    assert all(small.size < large.size and small.price > large.price for small, large in broken)
