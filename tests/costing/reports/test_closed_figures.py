"""What a closed period came to stays as it was told, where no posting holds it: market days and monthly fees."""

from datetime import date

import pytest

from costing.markets.models import MarketDay
from costing.pricing.actions import add_channel
from costing.pricing.models import ChannelTerms, SalesChannel
from costing.pricing.terms import monthly_fees
from inventory.errors import ClosedPeriod
from studio.accounts.models import User
from studio.auditing.reference_rows import delete_row, save_row
from tests.costing.markets.stories import make_market
from tests.costing.stories import make_channel
from tests.days import DAY, june
from tests.making import close_books, make_submission, money
from tests.programs import Program

pytestmark = pytest.mark.django_db
CLOSED = june(15)
MAY = (date(2025, 5, 1), date(2025, 5, 31))


def test_what_a_market_day_cost_stays_once_its_period_is_closed(owner: User) -> None:
    market, program = make_market(on=june(9)), Program(owner)
    close_books(through=CLOSED)
    for change in ({"pitch_fee": "99.00"}, {"held_on": "2025-06-20"}, {"distance": 50_000}, {"minutes": 1}):
        refused = program.refusal(f"market-days/{market.pk}/change/", change, status=409)
        assert refused["kind"] == "closed-period"
    with pytest.raises(ClosedPeriod):
        delete_row(market, submission=make_submission())
    assert MarketDay.objects.values_list("held_on", "pitch_fee").get() == (june(9), money(20))
    assert program.post(f"market-days/{market.pk}/change/", {"notes": "Windy"}).status_code == 200


def test_a_market_day_is_not_added_to_a_closed_period_nor_moved_into_it() -> None:
    later = make_market(on=CLOSED + DAY)
    close_books(through=CLOSED)
    later.held_on = CLOSED
    with pytest.raises(ClosedPeriod):
        save_row(later, submission=make_submission())
    late = MarketDay(name="Ebb", held_on=june(1), cash_channel=make_channel("Till"))
    with pytest.raises(ClosedPeriod):
        save_row(late, submission=make_submission())


def test_a_monthly_fee_of_a_closed_month_stays(owner: User) -> None:
    shop = make_channel("Online shop", monthly_fee=money(20))
    terms = shop.terms.get()
    close_books(through=CLOSED)
    program, before = Program(owner), monthly_fees(*MAY)
    assert before == {shop.pk: money(20)}
    for change in ({"monthly_fee": "100"}, {"monthly_fee": "0"}, {"holds_from": "2025-06-20"}):
        assert program.refusal(f"channel-terms/{terms.pk}/change/", change, status=409)
    for row in (terms, shop):
        with pytest.raises(ClosedPeriod):
            delete_row(row, submission=make_submission())
    assert program.post(f"channel-terms/{terms.pk}/change/", {"card_rate": "0.02"}).status_code == 200
    raised = {"channel": shop.pk, "holds_from": "2025-06-16", "monthly_fee": "30"}
    assert program.post("channel-terms/", raised).status_code == 201
    assert monthly_fees(*MAY) == before


def test_a_channel_that_is_added_later_takes_its_monthly_fee_from_the_open_period_on() -> None:
    close_books(through=CLOSED)
    terms = ChannelTerms(commission=100_000, monthly_fee=money(20))
    shop = add_channel(SalesChannel(name="Online shop"), terms, submission=make_submission())
    assert monthly_fees(*MAY) == {}
    assert monthly_fees(june(16), june(30)) == {shop.pk: money(10)}
