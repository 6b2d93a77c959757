"""What several pieces sold together bring, shared to the penny. No database."""

import random

import pytest

from costing.errors import CostingError
from costing.pricing.calculations import Channel, as_taken
from costing.selling.calculations import LineShares, SaleTotals, refunded_tax, share_sale

PENNY = 10_000


def pounds(text: str) -> int:
    whole, _point, pence = text.partition(".")
    return int(whole) * 1_000_000 + int((pence or "0").ljust(2, "0")) * PENNY


def test_a_quarter_off_the_whole_is_shared_by_price() -> None:
    """75.80 less 25% is 56.85 (OpenStax Contemporary Mathematics, m00058)."""
    shares = share_sale(
        [pounds("50.00"), pounds("25.80")], SaleTotals(discount=pounds("18.95")), Channel(), minor_unit=PENNY
    )
    assert [each.price for each in shares] == [pounds("37.50"), pounds("19.35")]
    assert sum(each.price for each in shares) == pounds("56.85")


def test_a_penny_that_cannot_be_shared_goes_to_one_line() -> None:
    shares = share_sale(
        [pounds("10.00")] * 3, SaleTotals(discount=pounds("1.00")), Channel(fixed_fee=pounds("0.20")),
        minor_unit=PENNY,
    )  # fmt: skip
    assert [each.price for each in shares] == [pounds("9.66"), pounds("9.67"), pounds("9.67")]
    assert sorted(each.fixed_fee for each in shares) == [60_000, 70_000, 70_000]  # the fee is taken once


def test_tax_is_in_the_postage_too_and_the_commission_is_not() -> None:
    """The tax in 120 at 20% is 20.00: VAT fraction 1/6 (HM Revenue & Customs, VAT Notice 700)."""
    channel = Channel(commission=400_000, card_rate=20_000, vat_rate=200_000)
    totals = SaleTotals(postage=pounds("12.00"), postage_paid=pounds("9.50"))
    [share] = share_sale([pounds("108.00")], totals, channel, minor_unit=PENNY)
    assert share == LineShares(
        price=pounds("108.00"), postage=pounds("12.00"), postage_paid=pounds("9.50"), tax=pounds("20.00"),
        commission=pounds("36.00"), card_fee=pounds("2.40"), fixed_fee=0,
    )  # fmt: skip


def test_lines_add_up_to_what_a_till_takes_of_the_whole() -> None:
    rng = random.Random(29)
    for _case in range(300):
        coin = rng.choice([1_000_000, 10_000, 1_000])  # ISO 4217: yen, pounds, dinars
        prices = [rng.randint(2, 20_000) * coin for _piece in range(rng.randint(1, 7))]
        channel = Channel(rng.randrange(400_000), rng.randrange(40_000), 3 * coin, rng.choice([0, 200_000]))
        discount = rng.randrange(min(prices) // coin) * coin
        totals = SaleTotals(discount, rng.randrange(900) * coin, rng.randrange(900) * coin)
        shares = share_sale(prices, totals, channel, minor_unit=coin)
        goods = sum(prices) - totals.discount
        whole = as_taken(goods + totals.postage, channel, minor_unit=coin)
        assert [sum(column) for column in zip(*map(_figures, shares), strict=True)] == [
            goods, totals.postage, totals.postage_paid, whole.vat,
            as_taken(goods, channel, minor_unit=coin).commission, whole.card_fee, whole.fixed_fee,
        ]  # fmt: skip
        assert all(figure >= 0 and figure % coin == 0 for each in shares for figure in _figures(each))


def test_a_discount_that_takes_everything_is_refused() -> None:
    with pytest.raises(CostingError, match="whole price"):
        share_sale([pounds("5.00")], SaleTotals(discount=pounds("5.00")), Channel(), minor_unit=PENNY)


def test_refunds_give_back_all_of_the_tax_and_no_more() -> None:
    """Tax in 80.00 at 5% is 3.81 (itsrelative.co.uk): refunded in three parts it is 3.81 again."""
    paid, tax = pounds("80.00"), pounds("3.81")
    so_far = [
        refunded_tax(pounds(amount), paid=paid, tax=tax, minor_unit=PENNY) for amount in ("10", "45.55", "80")
    ]
    assert so_far == [pounds("0.48"), pounds("2.17"), tax]


def _figures(share: LineShares) -> tuple[int, ...]:
    return (
        share.price, share.postage, share.postage_paid, share.tax, share.commission, share.card_fee,
        share.fixed_fee,
    )  # fmt: skip
