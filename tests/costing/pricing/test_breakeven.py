"""Break-even against every case of a printed textbook.

Textbook: OpenStax, Principles of Accounting, Volume 2: Managerial Accounting, chapter 3 (sections 3.1,
3.2, 3.3 and 3.5).
"""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from costing.pricing.calculations.break_even import (
    BreakEvenError,
    NeverBreaksEvenError,
    Product,
    break_even_mix,
    break_even_revenue,
    break_even_units,
    contribution_ratio,
    income,
    profit_before_tax,
    unit_contribution,
)

DOLLAR = 1_000_000


def dollars(amount: int | str) -> int:
    """Turn a printed amount into millionths."""
    exact = Fraction(amount) * DOLLAR
    assert exact.denominator == 1
    return exact.numerator


PRICE, VARIABLE, FIXED = dollars(100), dollars(20), dollars(18_000)


def test_one_product_breaks_even_as_in_the_textbook() -> None:
    # OpenStax Vol. 2, 3.2: price 100, variable 20, fixed 18,000: contribution 80, ratio 0.80, 225 units,
    # 22,500.
    assert unit_contribution(PRICE, VARIABLE) == dollars(80)
    assert contribution_ratio(PRICE, VARIABLE) == 800_000
    assert break_even_units(FIXED, PRICE, VARIABLE) == 225
    assert break_even_revenue(FIXED, PRICE, VARIABLE) == dollars(22_500)


@pytest.mark.parametrize(("units", "profit"), [(175, -4_000), (225, 0), (300, 6_000)])
def test_profit_either_side_of_break_even_is_the_textbooks(units: int, profit: int) -> None:
    # OpenStax Vol. 2, 3.2.
    assert income(units, PRICE, VARIABLE, FIXED) == dollars(profit)


@pytest.mark.parametrize(("units", "profit"), [(500, 17_000), (750, 37_000)])
def test_two_months_of_profit_are_the_textbooks(units: int, profit: int) -> None:
    # OpenStax Vol. 2, 3.1, with fixed costs of 23,000 there: contributions 40,000 and 60,000. (The text
    # says that the first month "contributed $36,000"; 500 x 80 is 40,000.)
    assert units * unit_contribution(PRICE, VARIABLE) == dollars(profit + 23_000)
    assert income(units, PRICE, VARIABLE, dollars(23_000)) == dollars(profit)


def test_a_target_profit_needs_425_units() -> None:
    # OpenStax Vol. 2, 3.3: target 16,000: 425 units or 42,500.
    assert break_even_units(FIXED, PRICE, VARIABLE, dollars(16_000)) == 425
    assert break_even_revenue(FIXED, PRICE, VARIABLE, dollars(16_000)) == dollars(42_500)


def test_a_target_after_tax_is_grossed_up_first() -> None:
    # OpenStax Vol. 2, 3.3: 24,000 after tax at 40 % is 40,000 before it (tax 16,000): 725 units or 72,500.
    before_tax = profit_before_tax(dollars(24_000), 400_000)
    assert before_tax == dollars(40_000)
    assert break_even_units(FIXED, PRICE, VARIABLE, before_tax) == 725
    assert break_even_revenue(FIXED, PRICE, VARIABLE, before_tax) == dollars(72_500)


def test_a_kiosk_of_shirts_earns_what_the_textbook_says() -> None:
    # OpenStax Vol. 2, 3.1: price 25, variable 15.50, fixed 700: contribution 9.50; 100 sold earn 250, 200
    # earn 1,200.
    price, variable, fixed = dollars(25), dollars("15.50"), dollars(700)
    assert unit_contribution(price, variable) == dollars("9.50")
    assert income(100, price, variable, fixed) == dollars(250)
    assert income(200, price, variable, fixed) == dollars(1_200)
    # 700 / 9.50 = 73.68..., and nobody sells part of a shirt.
    assert break_even_units(fixed, price, variable) == 74


@pytest.mark.parametrize(
    ("price", "variable", "fixed", "units", "revenue"),
    [
        # OpenStax Vol. 2, 3.2: haircuts (35, 20, 3,000) and tax returns (400, 150, 14,000; ratio 0.625).
        (35, 20, 3_000, 200, 7_000),
        (400, 150, 14_000, 56, 22_400),
    ],
)
def test_services_break_even_as_in_the_textbook(
    price: int, variable: int, fixed: int, units: int, revenue: int
) -> None:
    assert break_even_units(dollars(fixed), dollars(price), dollars(variable)) == units
    assert break_even_revenue(dollars(fixed), dollars(price), dollars(variable)) == dollars(revenue)


def test_a_ratio_is_a_share_of_the_price() -> None:
    # OpenStax Vol. 2, 3.1 (75 - 15 = 60) and 3.2 (250 of 400).
    assert unit_contribution(dollars(75), dollars(15)) == dollars(60)
    assert contribution_ratio(dollars(400), dollars(150)) == 625_000


def test_a_mix_of_products_breaks_even_as_in_the_textbook() -> None:
    # OpenStax Vol. 2, 3.5: A and B sell 3 : 1, A at 10 costing 4, B at 9 costing 5, fixed 220,000: a round
    # brings 22, so 10,000 rounds: 30,000 A and 10,000 B, sales 390,000. (The book's heading prints 15,385
    # composites and its table A's sales as 30,000; its own arithmetic gives 10,000 and 300,000.)
    mix = [Product(3, dollars(10), dollars(4)), Product(1, dollars(9), dollars(5))]
    assert sum(product.contribution for product in mix) == dollars(22)
    result = break_even_mix(dollars(220_000), mix)
    assert result.rounds == 10_000
    assert result.units == (30_000, 10_000)
    assert result.sales == dollars(390_000)


def test_a_product_may_be_carried_at_a_loss_by_the_rest_of_the_mix() -> None:
    mix = [Product(1, dollars(5), dollars(6)), Product(2, dollars(10), dollars(4))]
    assert break_even_mix(dollars(110), mix).units == (10, 20)


def test_it_refuses_when_each_sale_brings_nothing() -> None:
    for refused in (
        lambda: break_even_units(FIXED, VARIABLE, VARIABLE),
        lambda: break_even_revenue(FIXED, VARIABLE, PRICE),
        lambda: break_even_mix(FIXED, [Product(1, VARIABLE, VARIABLE)]),
    ):
        with pytest.raises(NeverBreaksEvenError, match="Raise the price"):
            refused()


def test_with_nothing_to_cover_nothing_need_be_sold() -> None:
    assert break_even_units(0, VARIABLE, PRICE) == 0
    assert break_even_revenue(0, PRICE, VARIABLE) == 0
    assert break_even_units(dollars(10), PRICE, VARIABLE, dollars(-10)) == 0


def test_it_refuses_impossible_figures() -> None:
    with pytest.raises(BreakEvenError, match="Fixed costs"):
        break_even_units(-1, PRICE, VARIABLE)
    with pytest.raises(BreakEvenError, match="at least one product"):
        break_even_mix(FIXED, [])
    with pytest.raises(BreakEvenError, match="at least one at a time"):
        Product(0, PRICE, VARIABLE)
    with pytest.raises(BreakEvenError, match="tax rate"):
        profit_before_tax(1, 1_000_000)
    with pytest.raises(BreakEvenError, match="price above zero"):
        contribution_ratio(0, 1)


@given(st.integers(0, 10**10), st.integers(1, 10**9), st.integers(0, 10**9), st.integers(0, 10**10))
def test_break_even_is_the_least_number_that_pays(
    fixed: int, contribution: int, variable: int, target: int
) -> None:
    price = variable + contribution
    units = break_even_units(fixed, price, variable, target)
    assert income(units, price, variable, fixed) >= target
    assert units == 0 or income(units - 1, price, variable, fixed) < target
    revenue = break_even_revenue(fixed, price, variable, target)
    assert (units - 1) * price < revenue <= units * price or revenue == 0
