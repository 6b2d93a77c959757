"""How the books are kept: chosen once, closed once, and the database holds to it by itself."""

from datetime import timedelta

import pytest
from django.db import DatabaseError, transaction

from inventory.errors import ClosedPeriod, LedgerError
from inventory.ledger.closing import choose_costing_method, close_through
from inventory.ledger.models import Books
from tests.days import TODAY, june
from tests.making import make_lot, make_submission

pytestmark = pytest.mark.django_db


def test_the_cost_flow_may_be_chosen_and_chosen_again_while_the_books_are_empty() -> None:
    assert (
        choose_costing_method(costing_method="average", submission=make_submission()).costing_method
        == "average"
    )
    assert choose_costing_method(costing_method="fifo", submission=make_submission()).costing_method == "fifo"


def test_it_refuses_another_cost_flow_once_the_books_have_begun() -> None:
    make_lot()
    assert choose_costing_method(costing_method="fifo", submission=make_submission()).costing_method == "fifo"
    with pytest.raises(LedgerError, match="must be chosen before the first posting"):
        choose_costing_method(costing_method="average", submission=make_submission())


def test_it_offers_no_last_in_first_out() -> None:
    # IAS 2 paragraph 25: first-in first-out or weighted average; last-in first-out is not among them.
    with pytest.raises(LedgerError):
        choose_costing_method(costing_method="lifo", submission=make_submission())


def test_the_database_refuses_a_changed_cost_flow_by_itself() -> None:
    make_lot()
    with pytest.raises(DatabaseError), transaction.atomic():
        Books.objects.update(costing_method="average")


def test_a_closed_period_takes_no_posting_and_may_grow() -> None:
    close_through(day=june(5), submission=make_submission())
    with pytest.raises(ClosedPeriod):
        make_lot(on=june(5))
    make_lot(on=june(6))
    assert close_through(day=june(7), submission=make_submission()).closed_through == june(7)


@pytest.mark.parametrize("day", [june(4), TODAY, TODAY + timedelta(days=1)])
def test_it_refuses_to_reopen_or_to_close_today(day: object) -> None:
    close_through(day=june(5), submission=make_submission())
    with pytest.raises(ClosedPeriod):
        close_through(day=day, submission=make_submission())  # type: ignore[arg-type]
    assert Books.objects.get().closed_through == june(5)


def test_the_database_refuses_to_reopen_by_itself() -> None:
    close_through(day=june(5), submission=make_submission())
    with pytest.raises(DatabaseError), transaction.atomic():
        Books.objects.update(closed_through=june(4))
