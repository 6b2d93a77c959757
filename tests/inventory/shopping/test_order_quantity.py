"""How much of one material to order, against textbooks."""

import pytest

from inventory.shopping.calculations.order_quantity import (
    cost_a_year,
    economic_packs,
    economic_packs_at,
    economic_quantity,
    most_to_hold,
)


def test_harris_orders_2190_units() -> None:
    # F. W. Harris, How Many Parts to Make at Once, Factory 10(2), 1913: 1,000 a month, 2.00 an order, 0.10 apiece,
    # a tenth of it a year to hold: "2,190 units".
    quantity = economic_quantity(an_order=2, a_year=12_000, to_hold=0.01)
    assert quantity == pytest.approx(2190.890230, abs=1e-6)


@pytest.mark.parametrize(
    ("an_order", "to_hold", "a_year", "quantity", "cost"),
    [
        # Snyder & Shen, Fundamentals of Supply Chain Theory, 2nd edition: example 3.1, problem 3.1.
        (8, 0.225, 1300, 304.0467800264368, 68.41052550594829),
        (2250, 275, 182_500, 1728.1098449935514, 475230.20737322664),
    ],
)
def test_the_economic_order_quantity(
    an_order: float, to_hold: float, a_year: float, quantity: float, cost: float
) -> None:
    found = economic_quantity(an_order=an_order, a_year=a_year, to_hold=to_hold)
    assert found == pytest.approx(quantity, rel=1e-12)
    assert cost_a_year(found, an_order=an_order, a_year=a_year, to_hold=to_hold) == pytest.approx(
        cost, rel=1e-12
    )


def test_another_quantity_costs_more() -> None:
    # Snyder & Shen, example 3.1: at 250 it is 69.725.
    assert cost_a_year(250, an_order=8, a_year=1300, to_hold=0.225) == pytest.approx(69.725)


def test_whole_packs_are_those_that_cost_least_over_a_year() -> None:
    # Worked out by hand: 3,650 mL a year at 0.018 each, an order 6.50, a quarter of the price to hold, packs of 500 mL.
    terms = {"an_order": 6.5, "a_year": 3650, "to_hold": 0.25 * 0.018}
    assert economic_quantity(**terms) == pytest.approx(3247.221034, abs=1e-6)
    assert economic_packs(**terms, pack=500) == 7
    assert cost_a_year(7 * 500, **terms) == pytest.approx(14.653571, abs=1e-6)
    assert cost_a_year(6 * 500, **terms) == pytest.approx(14.658333, abs=1e-6)


@pytest.mark.parametrize("pack", [1, 7, 120, 500, 3000, 9000])
@pytest.mark.parametrize("a_year", [10, 365, 5000])
def test_no_other_number_of_packs_costs_less(pack: int, a_year: int) -> None:
    terms = {"an_order": 5.0, "a_year": a_year, "to_hold": 0.004}
    best = economic_packs(**terms, pack=pack)
    cheapest = min(range(1, best + 200), key=lambda packs: cost_a_year(packs * pack, **terms))
    assert best == cheapest


def test_one_pack_where_an_order_costs_nothing_or_nothing_is_used() -> None:
    assert economic_packs(an_order=0, a_year=900, to_hold=0.1, pack=500) == 1
    assert economic_packs(an_order=6, a_year=0, to_hold=0.1, pack=500) == 1


def test_price_breaks_can_be_worth_a_larger_order() -> None:
    # Snyder & Shen, example 3.6 (discount on all units): 800 at 0.68, for 978.60 a year.
    prices = [(1, 0.75), (400, 0.72), (800, 0.68)]
    assert economic_packs_at(prices, an_order=8, a_year=1300, pack=1, holding=0.3) == 800
    held = cost_a_year(800, an_order=8, a_year=1300, to_hold=0.3 * 0.68)
    assert 0.68 * 1300 + held == pytest.approx(978.60)


def test_a_large_break_of_expensive_goods() -> None:
    # The same book's code (stockpyl, EOQ with all-units discounts): 500 of 0/200/500 at 500/475/450, 472,900 a year.
    prices = [(1, 500.0), (200, 475.0), (500, 450.0)]
    assert economic_packs_at(prices, an_order=200, a_year=1000, pack=1, holding=0.2) == 500
    held = cost_a_year(500, an_order=200, a_year=1000, to_hold=0.2 * 450)
    assert 450 * 1000 + held == pytest.approx(472_900)


def test_no_more_than_keeps_or_has_room() -> None:
    # 10 a day for 30 days, and 50 that are used before the delivery arrives.
    assert most_to_hold(a_day=10, usual_days=5, keeps_days=30, storage_limit=None) == 350
    assert most_to_hold(a_day=10, usual_days=5, keeps_days=30, storage_limit=200) == 250
    assert most_to_hold(a_day=0, usual_days=5, keeps_days=30, storage_limit=None) is None
