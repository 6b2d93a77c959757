"""Ways to a price, held against textbook figures and exhaustive search."""

from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from costing.errors import CostingError
from costing.pricing.calculations import Channel, as_taken, first_price
from costing.pricing.methods import (
    Ending,
    Method,
    Rules,
    Subject,
    Suggestion,
    changed_by,
    floor_of,
    from_margin,
    price_of,
    step_of,
    suggestions,
)
from tests.making import money

PENNY = 10_000
ENDS: dict[Ending, Callable[[int], bool]] = {
    Ending.EXACT: lambda price: True,
    Ending.WHOLE: lambda price: price % 1_000_000 == 0,
    Ending.FIVES: lambda price: price % 5_000_000 == 0,
    Ending.HALF: lambda price: price % 1_000_000 == 500_000,
    Ending.NINETY_FIVE: lambda price: price % 1_000_000 == 950_000,
    Ending.NINETY_NINE: lambda price: price % 1_000_000 == 990_000,
}


@pytest.mark.parametrize(
    ("markup", "margin"), [(250_000, 200_000), (1_000_000, 500_000), (3_000_000, 750_000)]
)
def test_a_margin_is_markup_over_one_more_than_it(markup: int, margin: int) -> None:
    """Margin = mark-up ÷ (1 + mark-up), an identity: 25 % is 20 %, 100 % is 50 %, 300 % is 75 %."""
    subject = Subject(cost=money(60), materials=money(20), seconds=0, area=0, sides=0)
    by = {each.method: each.left for each in suggestions(subject, Rules(markup=markup, margin=margin))}
    assert by[Method.MARKUP] == by[Method.MARGIN]


def test_markups_of_a_textbook() -> None:
    """OpenStax, Contemporary Mathematics, markup on cost: 62.00 at 15 % sells at 71.30, 750.00 at 45 % at 1,087.50."""
    for cost, markup, price in (("62.00", 150_000, "71.30"), ("750.00", 450_000, "1087.50")):
        subject = Subject(money(cost), 0, 0, 0, 0)
        assert suggestions(subject, Rules(markup=markup))[0].left == money(price)


def test_every_way_for_one_piece_by_hand() -> None:
    """Cost 22.00, of it 7.00 materials; an hour; 30 × 40 cm, so 1,200 cm² and 70 cm of height and width."""
    subject = Subject(money(22), money(7), 3_600, 1_200_000, 70_000)
    rules = Rules(
        markup=500_000,
        margin=450_000,
        wage=money(20),
        per_area=money(4),
        per_side=money("0.90"),
        retail_factor=2_000_000,
    )
    assert suggestions(subject, rules) == [
        Suggestion(Method.MARKUP, money(33), None),
        Suggestion(Method.MARGIN, money(40), None),
        Suggestion(Method.WAGE, money(27), None),
        Suggestion(Method.AREA, None, money(48)),
        Suggestion(Method.SIDES, None, money(63)),
        Suggestion(Method.RETAIL, None, money(66)),
    ]


def test_a_margin_of_everything_is_refused() -> None:
    for margin in (1_000_000, 1_500_000, -1):
        with pytest.raises(CostingError, match="below 100%"):
            from_margin(money(10), margin)


@given(
    cost=st.integers(0, 300_000_000),
    commission=st.integers(0, 600_000),
    card_rate=st.integers(0, 50_000),
    fixed_fee=st.integers(0, 2_000_000),
    tax_rate=st.sampled_from([0, 50_000, 190_000, 200_000]),
    ending=st.sampled_from(list(Ending)),
)
def test_the_floor_with_an_ending_is_the_least_price_that_ends_so_and_pays(
    cost: int, commission: int, card_rate: int, fixed_fee: int, tax_rate: int, ending: Ending
) -> None:
    """Every price that ends so is tried from zero."""
    channel = Channel(commission, card_rate, fixed_fee, tax_rate)
    step, tail = step_of(ending, minor_unit=PENNY)
    floor = floor_of(cost, channel, minor_unit=PENNY, ending=ending)
    assert ENDS[ending](floor)
    lowest = max(tail, floor - 400 * step) if ending is Ending.EXACT else tail
    paying = (
        price
        for price in range(first_price(lowest, step, tail), floor + 1, step)
        if as_taken(price, channel, minor_unit=PENNY).net >= cost
    )
    assert next(paying) == floor


@given(
    asked=st.integers(0, 500_000_000),
    left=st.none() | st.integers(0, 500_000_000),
    cost=st.integers(0, 200_000_000),
    ending=st.sampled_from(list(Ending)),
    commission=st.integers(0, 500_000),
)
def test_no_way_goes_below_what_covers_the_cost(
    asked: int, left: int | None, cost: int, ending: Ending, commission: int
) -> None:
    channel = Channel(commission=commission)
    price = price_of(Suggestion(Method.AREA, left, asked), cost, channel, minor_unit=PENNY, ending=ending)
    assert ENDS[ending](price)
    assert price >= asked
    assert as_taken(price, channel, minor_unit=PENNY).net >= max(cost, left or 0)


def test_currencies_without_minor_units_end_in_whole_ones() -> None:
    """ISO 4217: the yen has none."""
    yen = 1_000_000
    assert step_of(Ending.NINETY_NINE, minor_unit=yen) == (yen, 0)
    assert floor_of(money("1234.2"), Channel(), minor_unit=yen, ending=Ending.HALF) == money(1235)


@pytest.mark.parametrize(
    ("price", "change", "ending", "expected"),
    [
        ("40.00", 50_000, Ending.WHOLE, "42.00"),
        ("45.00", 50_000, Ending.WHOLE, "48.00"),
        ("45.00", -100_000, Ending.EXACT, "40.50"),
        ("45.00", 50_000, Ending.NINETY_FIVE, "47.95"),
        ("48.00", 0, Ending.FIVES, "50.00"),
    ],
)
def test_prices_are_changed_by_a_share_and_rounded_up(
    price: str, change: int, ending: Ending, expected: str
) -> None:
    assert changed_by(money(price), change, ending, minor_unit=PENNY) == money(expected)
