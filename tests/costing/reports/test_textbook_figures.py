"""Published examples: cost of sales, profit, and the lower of cost and net realisable value.

OpenStax, Principles of Accounting, volume 1 (Financial), chapters 6 and 10, and volume 2 (Managerial), chapter 2. The
first stock table is of volume 1, section 10.1; figures are facts.
"""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from costing.reports.calculations import (
    CashAccount,
    ChannelSales,
    Loss,
    ProfitAccount,
    Stage,
    StockAccount,
    Way,
    realisable,
    write_down,
)
from tests.making import money

amounts = st.integers(min_value=0, max_value=10**12)


def stock(opening: int, purchases: int, closing: int, cost_of_sales: int) -> StockAccount:
    return StockAccount(
        {Stage.RAW: money(opening)}, {Stage.RAW: money(closing)}, money(purchases), 0, money(cost_of_sales)
    )


def test_a_merchandisers_statement() -> None:
    """Plum Crazy (volume 2, section 2.1): 23,500 + 115,000 - 78,500 = 60,000; of 150,000 remain 90,000, then 33,300."""
    account = stock(23_500, 115_000, 78_500, 60_000)
    assert account.adds_up
    assert account.available == money(138_500)
    fees = money(4_000 + 12_000 + 35_000 + 3_000 + 1_500 + 1_200)
    sales = ChannelSales(1, "Shop", paid=money(150_000), fees=fees)
    profit = ProfitAccount([sales], account)
    assert (profit.gross_profit, profit.net_profit) == (money(90_000), money(33_300))


def test_sales_with_discounts_and_returns() -> None:
    """California Business Solutions (volume 1, section 6.6): net sales 293,500, gross 113,500, operating 54,450."""
    sales = ChannelSales(1, "Shop", paid=money(300_000 - 2_000), refunds=money(4_500), fees=money(46_250))
    profit = ProfitAccount([sales], stock(0, 180_000, 0, 180_000), overhead=money(12_800))
    assert (profit.net_sales, profit.gross_profit) == (money(293_500), money(113_500))
    assert profit.net_profit == money(54_450)


@pytest.mark.parametrize(
    ("items", "lower", "written_down"),
    [
        # number, cost, market (volume 1, section 10.1)
        ([(10, 36, 35), (25, 20, 20), (12, 6, 8)], 922, 10),
        ([(20, 100, 95), (30, 75, 70), (45, 50, 55)], 6_250, 250),
    ],
)
def test_lower_of_cost_and_net_realisable_value_is_taken_item_by_item(
    items: list[tuple[int, int, int]], lower: int, written_down: int
) -> None:
    """IAS 2, paragraph 29: what one item gains never hides what another one lost."""
    downs = [write_down(number * cost, number * market) for number, cost, market in items]
    assert sum(downs) == written_down
    assert sum(number * cost for number, cost, _market in items) - sum(downs) == lower


def test_costs_to_finish_and_to_sell_come_off_the_price() -> None:
    """A practice question of the Association of Accounting Technicians: 382 + 572 + 589 = 1,543, 44 written down."""
    items = [(400, 180, 562), (572, 210, 798), (615, 173, 762)]
    values = [realisable(price, to_finish=to_finish) for _cost, to_finish, price in items]
    assert values == [382, 588, 589]
    downs = [write_down(cost, value) for (cost, *_rest), value in zip(items, values, strict=True)]
    assert (downs, sum(cost for cost, *_rest in items) - sum(downs)) == ([18, 0, 26], 1_543)


def test_what_recovers_stands_at_its_cost_and_no_higher() -> None:
    """IAS 2, paragraph 33: 720,000 written down to 690,000; at 760,000 the next year it stands at 720,000 again."""
    assert write_down(720_000, realisable(740_000, selling=50_000)) == 30_000
    assert write_down(720_000, realisable(810_000, selling=50_000)) == 0


def test_a_gift_is_no_cost_of_the_business_and_a_spill_is() -> None:
    losses = [Loss(1, "Spill", Way.ABNORMAL, money(5)), Loss(2, "Gift", Way.GIFT, money(7))]
    account = StockAccount({}, {}, money(20), money(2), money(10), losses=losses)
    profit = ProfitAccount([ChannelSales(1, "Stall", paid=money(30))], account)
    assert profit.losses == money(3)  # 5 spilled, 2 found
    assert profit.net_profit == money(30 - 10 - 3)
    assert account.lost == money(12)


@given(paid=amounts, refunds=amounts, fees=amounts, purchases=amounts, ahead=amounts)
def test_cash_is_what_came_in_less_what_went_out(
    paid: int, refunds: int, fees: int, purchases: int, ahead: int
) -> None:
    account = StockAccount({}, {}, purchases, 0, 0)
    profit = ProfitAccount([ChannelSales(1, "Stall", paid=paid, refunds=refunds, fees=fees)], account)
    cash = CashAccount.of(profit, ahead)
    assert cash.difference == paid + ahead - refunds - fees - purchases


@given(cost=amounts, value=amounts)
def test_an_item_never_stands_above_its_cost_nor_above_what_it_will_bring(cost: int, value: int) -> None:
    assert cost - write_down(cost, value) == min(cost, value)
