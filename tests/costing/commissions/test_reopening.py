"""A commission that was cancelled and goes on: what was kept is held again, what was paid back is not."""

from typing import Any

import pytest

from costing.commissions.actions import CancelFacts, cancel_commission, reopen_commission, reverse_payment
from costing.commissions.models import Commission
from costing.commissions.queries import figures_of, kept_deposits
from costing.contacts.actions import erase_contact
from costing.errors import CommissionClosed, CommissionError
from costing.pieces.calculations import State
from costing.selling.actions import PieceSold, SaleFacts, sell_together
from studio.errors import InputError
from tests.costing.commissions.stories import a_commission, paid, state_of
from tests.costing.locations.stories import make_contact
from tests.costing.stories import LATER, a_piece, make_channel
from tests.days import june
from tests.making import make_submission, money

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("books_hold")]


def cancelled_keeping_20() -> Commission:
    """60.00 paid, 40.00 paid back and 20.00 kept."""
    commission = a_commission()
    paid(commission, "60.00")
    facts = CancelFacts(money(40), make_channel(), "The canvas was bought")
    return cancel_commission(commission=commission, facts=facts, submission=make_submission(on=LATER))


def reopened(commission: Commission, **facts: Any) -> Commission:
    return reopen_commission(commission=commission, submission=make_submission(**{"on": LATER, **facts}))


def test_a_cancelled_commission_that_goes_on_holds_again_what_was_kept_and_not_what_was_paid_back() -> None:
    commission = cancelled_keeping_20()
    for _ in range(2):
        commission = reopened(commission, key="r")
    assert state_of(commission) == ("open", money(20), money(20))
    [figures] = figures_of([commission])
    assert (figures.left, figures.kept, kept_deposits(None, None)) == (money(180), 0, 0)
    paid(commission, "40.00")
    cancel_commission(
        commission=commission,
        facts=CancelFacts(money(60), make_channel()),
        submission=make_submission(on=LATER),
    )
    assert state_of(commission) == ("cancelled", 0, 0)


def test_a_repayment_that_was_never_made_is_reversed_once_the_commission_is_open_again() -> None:
    commission = cancelled_keeping_20()
    returned, received = (commission.payments.get(kind=kind) for kind in ("returned", "received"))
    with pytest.raises(CommissionClosed):
        reverse_payment(payment=returned, reason="Never paid", submission=make_submission(on=LATER))
    reopened(commission)
    with pytest.raises(CommissionError):  # less than nothing would be held
        reverse_payment(payment=received, reason="Never paid", submission=make_submission(on=LATER))
    reverse_payment(payment=returned, reason="Never paid", submission=make_submission(on=LATER))
    assert state_of(commission) == ("open", money(60), money(60))


def test_what_is_open_stays_so_and_what_was_sold_or_belongs_to_nobody_is_not_reopened() -> None:
    assert reopened(a_commission()).is_open
    cancelled = cancelled_keeping_20()
    with pytest.raises(InputError) as refused:
        reopened(cancelled, on=june(3))
    assert refused.value.field == "on"
    assert cancelled.contact is not None
    erase_contact(contact=cancelled.contact, submission=make_submission())
    with pytest.raises(CommissionError):
        reopened(cancelled)
    sold = a_commission(contact=make_contact(name="Second buyer"))
    sell_together(
        lines=[PieceSold(a_piece(state=State.FOR_SALE), money(200))],
        channel=make_channel(),
        facts=SaleFacts(commission=sold),
        submission=make_submission(on=LATER),
    )
    with pytest.raises(CommissionClosed):
        reopened(sold)
