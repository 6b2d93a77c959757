"""Money paid for a piece before it is sold: owed to the buyer, set off at the sale, paid back or kept without one."""

from contextlib import suppress
from datetime import date
from typing import Any

import pytest
from django.db import transaction
from hypothesis import given, settings
from hypothesis import strategies as st

from costing.commissions.actions import (
    CancelFacts,
    PaymentFacts,
    cancel_commission,
    receive_payment,
    reverse_payment,
)
from costing.commissions.models import Commission, CommissionPayment, CommissionState
from costing.commissions.queries import customer_deposits, figures_of, kept_deposits
from costing.contacts.actions import erase_contact
from costing.errors import CommissionClosed, CommissionError, CostingError
from costing.markets.actions.counting import count_cash
from costing.markets.queries import result_of
from costing.pieces.calculations import State
from costing.pricing.calculations import Channel, as_taken
from costing.pricing.models import SalesChannel
from costing.selling.actions import PieceSold, SaleFacts, return_sale, sell_together
from costing.selling.calculations import PaidBefore, SaleTotals, share_sale
from costing.selling.models import Sale
from costing.selling.queries import sale_figures, with_lines
from inventory.errors import LedgerError
from studio.auditing.reference_rows import save_row
from studio.errors import InputError, MeniscusError
from tests.costing.commissions.stories import a_commission, paid, state_of
from tests.costing.locations.stories import make_contact
from tests.costing.markets.stories import make_market
from tests.costing.stories import LATER, a_piece, make_channel, use_rates
from tests.days import TODAY, june
from tests.making import make_submission, money

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("books_hold")]


def sold_for(
    commission: Commission,
    price: str = "200.00",
    *,
    channel: SalesChannel | None = None,
    on: date = LATER,
    **facts: Any,
) -> Sale:
    piece = a_piece(title="Harbour ring", state=State.FOR_SALE)
    return sell_together(
        lines=[PieceSold(piece, money(price))],
        channel=channel or make_channel(),
        facts=SaleFacts(commission=commission, **facts),
        submission=make_submission(on=on),
    )


# Before the sale


def test_what_is_paid_before_the_sale_is_owed_to_the_buyer() -> None:
    commission = a_commission()
    paid(commission, "60.00")
    paid(commission, "40.00")
    assert state_of(commission) == ("open", money(100), money(100))
    assert customer_deposits() == money(100)
    assert customer_deposits(june(1)) == 0
    assert not Sale.objects.exists()


@pytest.mark.parametrize(
    ("amount", "on", "field"),
    [("200.01", LATER, "amount"), ("0", LATER, "amount"), ("-5", LATER, "amount"), ("10", june(1), "on")],
)
def test_a_payment_that_makes_no_sense_is_refused(amount: str, on: date, field: str) -> None:
    commission = a_commission()
    with pytest.raises(InputError) as refused:
        paid(commission, amount, on=on)
    assert refused.value.field == field
    assert not CommissionPayment.objects.exists()


def test_a_payment_lies_neither_ahead_nor_below_the_smallest_coin() -> None:
    commission = a_commission()
    with pytest.raises(LedgerError):
        paid(commission, on=june(28))
    with pytest.raises(CostingError):
        paid(commission, "0.005")


def test_parts_come_up_to_the_agreed_price_and_no_further() -> None:
    commission = a_commission()
    paid(commission, "150.00")
    with pytest.raises(InputError):
        paid(commission, "50.01")
    paid(commission, "50.00")
    assert state_of(commission)[1] == money(200)


def test_the_same_payment_sent_again_is_one() -> None:
    commission = a_commission()
    assert paid(commission, key="k") == paid(commission, key="k")
    assert CommissionPayment.objects.count() == 1


def test_the_price_is_agreed_anew_but_not_below_what_was_paid() -> None:
    commission = a_commission()
    paid(commission, "60.00")
    commission.price = money(59)
    with pytest.raises(InputError):
        save_row(commission, submission=make_submission())
    commission.price = money(60)
    save_row(commission, submission=make_submission())
    assert state_of(commission)[1] == money(60)


@pytest.mark.parametrize("facts", [{"wanted": " "}, {"price": "0"}, {"wanted_by": june(1)}])
def test_a_commission_that_makes_no_sense_is_refused(facts: dict[str, Any]) -> None:
    with pytest.raises(InputError):
        a_commission(**facts)


# Mistakes


def test_a_mistaken_payment_is_reversed_once_with_a_reason() -> None:
    commission = a_commission()
    payment = paid(commission, "60.00", channel=make_channel("Reader", card_rate=20_000))
    for reason, on, refusal in (("", LATER, InputError), ("Typed twice", june(8), InputError)):
        with pytest.raises(refusal):
            reverse_payment(payment=payment, reason=reason, submission=make_submission(on=on))
    opposite = reverse_payment(payment=payment, reason="Typed twice", submission=make_submission(on=LATER))
    assert (opposite.amount, opposite.fee, opposite.reason) == (-money(60), -money("1.20"), "Typed twice")
    assert state_of(commission) == ("open", 0, 0)
    for again in (payment, opposite):
        with pytest.raises(CommissionError):
            reverse_payment(payment=again, reason="Again", submission=make_submission(on=LATER))


# At the sale


def test_the_sale_sets_off_what_was_paid_and_closes_the_commission_once() -> None:
    commission = a_commission()
    paid(commission, "60.00")
    sale = sold_for(commission)
    assert state_of(commission) == ("sold", money(60), 0)
    assert (sale.paid_before, sale.buyer, sale.commission) == (money(60), commission.contact, commission)
    [figures] = sale_figures(with_lines(Sale.objects.filter(pk=sale.pk)), "GBP")
    # All of the price is income on the day of the sale.
    assert (figures.charged, figures.balance, figures.total.net_proceeds) == (
        money(200),
        money(140),
        money(200),
    )
    assert customer_deposits() == 0
    with pytest.raises(CommissionClosed):
        sold_for(commission)
    with pytest.raises(CommissionClosed):
        paid(commission, "1.00")
    with pytest.raises(CommissionClosed):
        cancel_commission(commission=commission, facts=CancelFacts(), submission=make_submission(on=LATER))


def test_a_commission_without_a_deposit_is_sold_like_any_piece() -> None:
    commission = a_commission()
    assert sold_for(commission).paid_before == 0
    assert state_of(commission) == ("sold", 0, 0)


def test_tax_is_of_the_whole_price_and_card_fees_are_of_each_payment() -> None:
    """Tax at 1/6 of 200.00 (VAT fraction, HM Revenue & Customs, VAT Notice 700); 2% of 60.00 and 1% of 140.00."""
    use_rates(tax_rate=200_000)
    commission = a_commission()
    paid(commission, "60.00", channel=make_channel("Reader", card_rate=20_000))
    line = sold_for(commission, channel=make_channel("Shop", card_rate=10_000)).lines.get()
    assert (line.tax, line.card_fee) == (money("33.33"), money("2.60"))


def test_more_paid_than_the_sale_comes_to_is_refused_and_nothing_is_written() -> None:
    commission = a_commission()
    paid(commission, "60.00")
    with pytest.raises(CostingError):
        sold_for(commission, "59.99")
    assert not Sale.objects.exists()
    assert state_of(commission) == ("open", money(60), money(60))


def test_an_undone_sale_leaves_the_deposit_held_and_the_commission_open() -> None:
    commission = a_commission()
    paid(commission, "60.00", channel=make_channel("Reader", card_rate=20_000))
    sale = sold_for(commission)
    return_sale(sale=sale, is_undone=True, submission=make_submission(on=LATER))
    assert state_of(commission) == ("open", money(60), money(60))
    again = sold_for(commission)
    assert (again.paid_before, again.lines.get().card_fee) == (money(60), money("1.20"))
    assert state_of(commission) == ("sold", money(60), 0)


def test_a_returned_sale_is_refunded_in_money_and_the_commission_stays_finished() -> None:
    commission = a_commission()
    paid(commission, "60.00")
    sale = sold_for(commission)
    return_sale(sale=sale, submission=make_submission(on=june(10)))
    assert state_of(commission) == ("sold", money(60), 0)
    assert sale.lines.get().refunds.get().amount == money(200)


# Without a sale


def test_a_cancelled_commission_pays_back_or_keeps_for_a_reason() -> None:
    commission, shop = a_commission(), make_channel()
    paid(commission, "60.00")
    for returned, field in (("60.01", "returned"), ("40", "reason")):
        wrong = CancelFacts(money(returned), shop)
        with pytest.raises(InputError) as refused:
            cancel_commission(commission=commission, facts=wrong, submission=make_submission(on=LATER))
        assert refused.value.field == field
    with pytest.raises(InputError):
        CancelFacts(returned=money(1))
    facts = CancelFacts(money(40), shop, "The canvas was bought")
    for _ in range(2):
        cancel_commission(commission=commission, facts=facts, submission=make_submission(on=LATER, key="c"))
    assert state_of(commission) == ("cancelled", money(20), 0)
    [figures] = figures_of([commission])
    assert (figures.kept, customer_deposits()) == (money(20), 0)
    assert kept_deposits(None, None) == kept_deposits(LATER, LATER) == money(20)
    assert kept_deposits(june(10), None) == kept_deposits(None, june(8)) == 0


def test_cancelling_what_held_nothing_is_answered_again_when_it_is_sent_again() -> None:
    commission = a_commission()
    for _ in range(2):
        cancel_commission(
            commission=commission, facts=CancelFacts(), submission=make_submission(on=LATER, key="c")
        )
    assert state_of(commission) == ("cancelled", 0, 0)
    with pytest.raises(CommissionClosed):
        cancel_commission(
            commission=commission,
            facts=CancelFacts(money(1), make_channel()),
            submission=make_submission(on=LATER, key="d"),
        )


def test_nothing_is_cancelled_before_its_last_payment() -> None:
    commission = a_commission()
    paid(commission, on=LATER)
    with pytest.raises(InputError):
        cancel_commission(
            commission=commission,
            facts=CancelFacts(money(60), make_channel()),
            submission=make_submission(on=june(8)),
        )


# Takings


def test_a_payment_is_takings_of_its_day_and_the_balance_of_the_sales_day() -> None:
    commission = a_commission()
    first, second = make_market(on=june(7)), make_market(on=june(9))
    paid(commission, "60.00", channel=first.cash_channel, on=june(7))
    ordered = result_of(first)
    assert (ordered.result.cash, ordered.result.sales, ordered.result.contribution) == (money(60), 0, 0)
    assert count_cash(market=first, counted=money(110), submission=make_submission()).difference == 0
    sold_for(commission, channel=second.cash_channel, on=june(9))
    row = result_of(second)
    # 140.00 in the till; 200.00 of sales less a cost of 5.50.
    assert (row.result.cash, row.result.sales, row.result.contribution) == (
        money(140), money(200), money("194.50"),
    )  # fmt: skip
    assert row.cash_taken == money(140)
    assert count_cash(market=second, counted=money(190), submission=make_submission()).difference == 0
    assert result_of(first).result.cash == money(60)


def test_an_undone_sale_and_a_payment_back_leave_the_till_as_it_was() -> None:
    commission, market = a_commission(), make_market(on=june(9))
    paid(commission, "60.00", channel=market.card_channel, on=june(9))
    sale = sold_for(commission, channel=market.cash_channel, on=june(9))
    return_sale(sale=sale, is_undone=True, submission=make_submission(on=june(9)))
    row = result_of(market)
    assert (row.cash_taken, row.result.cash, row.result.card, row.result.sales) == (0, 0, money(60), 0)
    cancel_commission(
        commission=commission,
        facts=CancelFacts(money(60), market.card_channel),
        submission=make_submission(on=june(9)),
    )
    assert result_of(market).result.takings == 0


# The contact


def test_an_erased_contact_leaves_the_figures(owner: Any) -> None:
    contact = make_contact()
    commission = a_commission(contact=contact)
    payment = receive_payment(
        commission=commission,
        facts=PaymentFacts(money(60), make_channel(), "Wenda's own words"),
        submission=make_submission(on=LATER),
    )
    erase_contact(contact=contact, submission=make_submission())
    commission.refresh_from_db()
    payment.refresh_from_db()
    assert (commission.contact, commission.wanted, payment.reason) == (None, "", "")
    assert state_of(commission) == ("open", money(60), money(60))
    sold_for(commission)
    assert state_of(commission)[0] == "sold"


# Invariants

STEPS = st.lists(
    st.tuples(st.sampled_from(["pay", "reverse", "sell", "undo", "cancel"]), st.integers(1, 250)), max_size=12
)


@settings(max_examples=15, deadline=None)
@given(STEPS)
def test_payments_never_exceed_the_price_and_deposits_never_fall_below_zero(
    steps: list[tuple[str, int]],
) -> None:
    with transaction.atomic():
        commission, shop = a_commission(), make_channel()
        for step, amount in steps:
            with suppress(MeniscusError):
                _try(step, amount, commission, shop)
            state, so_far, held = state_of(commission)
            payments = CommissionPayment.objects.filter(commission=commission)
            assert held == sum(each.amount for each in payments)
            assert 0 <= held <= so_far <= money(200)
            assert held == 0 or state == CommissionState.OPEN
            assert (state == CommissionState.SOLD) == Sale.objects.filter(commission=commission).exists()
        transaction.set_rollback(True)


def _try(step: str, amount: int, commission: Commission, shop: SalesChannel) -> None:
    submission = make_submission(on=TODAY)
    if step == "pay":
        receive_payment(commission=commission, facts=PaymentFacts(money(amount), shop), submission=submission)
    elif step == "reverse" and (payment := commission.payments.order_by("-pk").first()):
        reverse_payment(payment=payment, reason="A mistake", submission=submission)
    elif step == "sell":
        sold_for(commission, str(amount), on=TODAY)
    elif step == "undo" and (sale := Sale.objects.filter(commission=commission).first()):
        return_sale(sale=sale, is_undone=True, submission=submission)
    elif step == "cancel":
        facts = CancelFacts(money(amount), shop, "It came to nothing")
        cancel_commission(commission=commission, facts=facts, submission=submission)


@given(st.lists(st.integers(1, 10**5), min_size=1, max_size=5), st.integers(0, 10**5), st.integers(0, 50_000))
def test_card_fees_of_a_part_and_of_the_rest_come_to_about_the_fee_of_the_whole(
    pence: list[int], before: int, rate: int
) -> None:
    coin = 10_000
    charges, total = Channel(card_rate=rate), sum(pence)
    part = min(before, total)
    fee = as_taken(part * coin, charges, minor_unit=coin).card_fee
    shares = share_sale(
        [each * coin for each in pence],
        SaleTotals(),
        charges,
        minor_unit=coin,
        before=PaidBefore(part * coin, fee),
    )
    whole = as_taken(total * coin, charges, minor_unit=coin).card_fee
    assert abs(sum(each.card_fee for each in shares) - whole) <= coin
    assert sum(each.price for each in shares) == total * coin
