"""What a sales channel takes by the month: a cost of the channel, shared by day, and in no piece's price."""

from datetime import date, timedelta

import pytest
from django.db import IntegrityError, transaction
from django.test import Client
from django.urls import reverse
from hypothesis import given
from hypothesis import strategies as st

from costing.earnings.queries import BY, Earned, earned_by, fees_between
from costing.pieces.calculations import State
from costing.pricing.models import ChannelTerms, SalesChannel
from costing.pricing.queries import price_advice
from costing.pricing.terms import fees_by_month, monthly_fees
from costing.selling.models import Sale
from costing.selling.queries import SalesTotal
from studio.accounts.models import User
from studio.preferences.formatting import Formatter
from studio.preferences.models import Studio
from tests.costing.earnings.test_earnings import sold
from tests.costing.markets.stories import make_market
from tests.costing.pages import text_of
from tests.costing.stories import a_piece, make_channel, use_rates
from tests.days import TODAY, june
from tests.inventory.browsing import queries
from tests.making import money
from tests.programs import Program

pytestmark = pytest.mark.django_db
MAY, JULY = date(2025, 5, 1), date(2025, 7, 31)


@pytest.fixture
def shop() -> SalesChannel:
    """6.20 a month from the beginning, 9.00 from 16 June, none from 1 August."""
    use_rates(wage="0", overhead="0")
    channel = make_channel("Online shop", monthly_fee=money("6.20"))
    ChannelTerms.objects.create(channel=channel, holds_from=june(16), monthly_fee=money(9))
    ChannelTerms.objects.create(channel=channel, holds_from=date(2025, 8, 1), monthly_fee=0)
    return channel


def earned(*, channel: SalesChannel | None = None) -> Earned:
    fees = fees_between(None, None, channel, today=june(30))
    return earned_by(Sale.objects.all(), Formatter.of(Studio.current()), fees)


def test_a_month_takes_a_share_of_each_fee_for_the_days_on_which_it_held(shop: SalesChannel) -> None:
    """By hand: May 6.20; June 15/30 of 6.20 and 15/30 of 9.00 are 3.10 + 4.50; July 9.00; August nothing."""
    make_channel("Lantern Quay stall", commission=100_000)
    found = fees_by_month(MAY, date(2025, 9, 30))
    assert [(fee.channel, fee.month, fee.amount) for fee in found] == [
        (shop, MAY, money("6.20")),
        (shop, june(1), money("7.60")),
        (shop, date(2025, 7, 1), money(9)),
    ]
    assert monthly_fees(MAY, JULY) == {shop.pk: money("22.80")}


@pytest.mark.parametrize(
    ("first", "last", "amount"),
    [
        (date(2025, 5, 1), date(2025, 5, 1), "0.20"),
        (date(2025, 5, 30), june(2), "0.81"),
        (june(15), june(16), "0.51"),
        (date(2025, 7, 31), date(2025, 8, 2), "0.29"),
    ],
)
def test_a_part_of_a_month_takes_its_days(first: date, last: date, amount: str, shop: SalesChannel) -> None:
    """By hand: 2/31 and 2/30 of 6.20 are 0.40 and 0.41; 6.20/30 + 9.00/30 are 0.5067; 9.00/31 are 0.2903."""
    assert monthly_fees(first, last) == {shop.pk: money(amount)}


@given(days=st.integers(0, 200), cut=st.integers(0, 199))
def test_whole_months_add_up_wherever_a_period_is_cut(days: int, cut: int) -> None:
    with transaction.atomic():
        shop = make_channel("Online shop", monthly_fee=money(31))
        first, last = date(2025, 1, 1), date(2025, 1, 1) + timedelta(days=days)
        middle = (first + timedelta(days=min(cut, days))).replace(day=1) - timedelta(days=1)
        parts = [monthly_fees(first, middle), monthly_fees(middle + timedelta(days=1), last)]
        assert sum(part.get(shop.pk, 0) for part in parts) == monthly_fees(first, last)[shop.pk]
        transaction.set_rollback(True)


def test_a_period_that_ends_before_it_begins_has_no_fees(shop: SalesChannel) -> None:
    assert monthly_fees(june(2), june(1)) == {}


def test_a_channels_earnings_are_less_its_monthly_fees(shop: SalesChannel) -> None:
    """A piece of 5.50 sold for 45.00 on 9 June: 7 days of 6.20 and 15 of 9.00 are 1.4467 + 4.50."""
    sold(a_piece(title="Ebb", state=State.FOR_SALE), channel="Online shop")
    sold(a_piece(title="Flood", state=State.FOR_SALE), channel="Lantern Quay stall")
    stall, online = earned().groups("channel")
    assert (stall.label, stall.total.monthly_fees, stall.total.profit) == (
        "Lantern Quay stall",
        0,
        money("39.50"),
    )
    assert (online.total.monthly_fees, online.total.net_proceeds, online.total.profit) == (
        money("5.95"),
        money("39.05"),
        money("33.55"),
    )
    [month] = earned().groups("month")
    assert month.total.profit == earned().total.profit == money("73.05")
    assert earned(channel=shop).total.monthly_fees == money("5.95")
    assert earned(channel=make_channel("Lantern Quay stall")).total.monthly_fees == 0


@pytest.mark.usefixtures("shop")
@pytest.mark.parametrize("by", BY)
def test_groups_with_monthly_fees_add_up_to_the_whole(by: str) -> None:
    sold(a_piece(title="Ebb", state=State.FOR_SALE), on=june(10))
    everything = earned()
    groups = everything.groups(by)
    for name in SalesTotal.__dataclass_fields__:
        assert sum(getattr(each.total, name) for each in groups) == getattr(everything.total, name), name
    for group in groups:
        assert everything.within(by, group.key).total == group.total


@pytest.mark.usefixtures("shop")
def test_without_any_sale_there_is_no_period_to_share_fees_over() -> None:
    assert earned().total.monthly_fees == 0


def test_a_monthly_fee_is_in_no_price(shop: SalesChannel) -> None:
    piece = a_piece(price="45.00")
    [with_fee] = price_advice(piece, on=june(20)).channels
    ChannelTerms.objects.update(monthly_fee=0, commission=0)
    [without] = price_advice(piece, on=june(20)).channels
    assert (with_fee.floor, with_fee.profit) == (without.floor, without.profit)


def test_sales_of_a_market_day_stand_together() -> None:
    use_rates(wage="0", overhead="0")
    market = make_market(held_on=june(10))
    assert market.cash_channel is not None
    name = market.cash_channel.name
    sold(a_piece(title="Ebb", state=State.FOR_SALE), on=june(10), channel=name)
    sold(a_piece(title="Flood", state=State.FOR_SALE), on=june(11), channel=name, price="40.00")
    sold(a_piece(title="Slack", state=State.FOR_SALE), on=june(10), channel="Online shop", price="20.00")
    there, elsewhere = sorted(earned().groups("market"), key=lambda group: group.key, reverse=True)
    assert (there.key, there.total.paid) == (str(market.pk), money(45))
    assert there.label.startswith(market.name)
    assert (elsewhere.key, elsewhere.total.paid) == ("", money(60))
    assert [each.piece.title for each in earned().within("market", str(market.pk)).lines] == ["Ebb"]


def test_page_and_programs_tell_monthly_fees(signed: Client, owner: User, shop: SalesChannel) -> None:
    sold(a_piece(title="Ebb", state=State.FOR_SALE), channel="Online shop")
    period = {"first": "2025-06-01", "last": "2025-06-30"}
    page = signed.get(reverse("costing:earnings"), period)
    assert "Monthly fees" in text_of(page)
    assert "£5.95" in text_of(page)
    inside = signed.get(page.context["table"].rows[0].address)
    assert inside.context["total"].monthly_fees == money("5.95")
    program = Program(owner)
    [group] = program.read("earnings/?first=2025-06-01&last=2025-06-30")["results"]
    total = program.read("earnings/total/?first=2025-06-01&last=2025-06-30")
    assert group["monthly_fees"] == total["monthly_fees"] == "5.950000"
    assert (total["profit"], total["kept_deposits"]) == ("33.550000", "0.000000")
    [channel] = program.read("sales-channels/")["results"]
    assert [terms["monthly_fee"] for terms in channel["terms"]] == ["6.200000", "9.000000", "0.000000"]


@pytest.mark.usefixtures("shop")
def test_the_page_asks_as_many_queries_for_few_fees_as_for_many(signed: Client) -> None:
    sold(a_piece(title="Ebb", state=State.FOR_SALE))
    few = queries(signed, reverse("costing:earnings"))
    for number in range(4):
        channel = make_channel(f"Shop {number}", monthly_fee=money(1))
        ChannelTerms.objects.create(channel=channel, holds_from=june(3), monthly_fee=money(2))
    assert queries(signed, reverse("costing:earnings")) == few


def test_a_fee_is_typed_with_a_new_channel_and_for_a_later_day(signed: Client) -> None:
    sent = {
        "name": "Online shop", "payment": "online", "commission": "0", "card_rate": "0", "fixed_fee": "0",
        "monthly_fee": "6.50", "seen": "0",
    }  # fmt: skip
    signed.post(reverse("costing:channel-new"), sent)
    channel = SalesChannel.objects.get(name="Online shop")
    signed.post(
        reverse("costing:terms-new"),
        {"channel": channel.pk, "holds_from": "2025-06-10", "monthly_fee": "0", "seen": "0"},
    )
    assert list(channel.terms.values_list("monthly_fee", flat=True)) == [money("6.50"), 0]


def test_the_database_takes_no_fee_below_zero() -> None:
    """Going round Python."""
    channel = make_channel()
    with pytest.raises(IntegrityError), transaction.atomic():
        ChannelTerms.objects.bulk_create([ChannelTerms(channel=channel, holds_from=TODAY, monthly_fee=-1)])
