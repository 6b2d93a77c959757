"""Month-ends: any past day read through them is the day that the ledger itself tells."""

from datetime import date, timedelta

import pytest
from django.db.models import Sum
from hypothesis import given
from hypothesis import strategies as st

from inventory.ledger import verification as books
from inventory.ledger.models import Entry, Lot, MonthEnd, Place
from inventory.ledger.month_ends import DayOfLot, balances_on, keep_month_ends, month_ends
from inventory.stock.queries import stock_list
from tests.making import make_delivery, make_material, make_owner, spill

FIRST = date(2025, 1, 10)
LAST = date(2025, 6, 9)


def straight_from_the_ledger(day: date) -> dict[int, tuple[int, int]]:
    rows = (
        Entry.objects.filter(place=Place.LOT, posting__effective_on__lte=day)
        .order_by()
        .values_list("lot_id")
        .annotate(Sum("quantity"), Sum("money"))
    )
    return {lot: (quantity, money) for lot, quantity, money in rows if (quantity, money) != (0, 0)}


def every_week() -> list[date]:
    return [FIRST + timedelta(days=7 * week) for week in range(25)]


@pytest.fixture
def half_a_year(db: None) -> None:
    """Paint comes in January and March and leaves now and then, some of it posted months late."""
    owner, paint = make_owner(), make_material()
    first = make_delivery(lines=[(paint, 1_000_000, 9_970_000)], on=FIRST, by=owner)
    make_delivery(lines=[(paint, 500_000, 7_010_000)], on=date(2025, 3, 5), by=owner)
    lot = first.lines.get().lot
    for day in (date(2025, 1, 31), date(2025, 2, 1), date(2025, 2, 28), date(2025, 5, 30)):
        spill(lot=lot, quantity=70_001, on=day)
    keep_month_ends(before=date(2025, 5, 15))
    spill(lot=lot, quantity=50_003, on=date(2025, 2, 14))  # posted late
    spill(lot=lot, quantity=1_003, on=LAST)


@pytest.mark.usefixtures("half_a_year")
@pytest.mark.parametrize("again", [False, True], ids=["not brought up since", "brought up again"])
def test_every_day_is_the_one_that_the_ledger_tells(again: bool) -> None:
    if again:
        keep_month_ends(before=LAST)
    assert MonthEnd.objects.exists()
    for day in every_week():
        assert balances_on(day) == straight_from_the_ledger(day), day


@pytest.mark.usefixtures("half_a_year")
def test_without_month_ends_every_day_is_counted_back_to() -> None:
    MonthEnd.objects.all().delete()
    for day in every_week():
        assert balances_on(day) == straight_from_the_ledger(day), day


@pytest.mark.usefixtures("half_a_year")
def test_only_what_has_changed_is_worked_out_anew() -> None:
    keep_month_ends(before=LAST)
    assert keep_month_ends(before=LAST) == 0
    january = MonthEnd.objects.filter(day=date(2025, 1, 31)).values_list("pk", flat=True)
    before = set(january)
    spill(lot=Lot.objects.earliest("pk"), quantity=7, on=date(2025, 4, 4))
    assert keep_month_ends(before=LAST) > 0
    assert set(january) == before
    assert set(MonthEnd.objects.values_list("day", flat=True)) >= {date(2025, 4, 30), date(2025, 5, 31)}
    assert set(MonthEnd.objects.values_list("through", flat=True)) == {books.check().postings}


@pytest.mark.usefixtures("half_a_year")
def test_the_month_that_is_not_over_has_no_end_yet() -> None:
    keep_month_ends(before=LAST)
    assert max(MonthEnd.objects.values_list("day", flat=True)) == date(2025, 5, 31)


@pytest.mark.usefixtures("half_a_year")
def test_checking_the_books_finds_a_month_end_that_is_wrong() -> None:
    keep_month_ends(before=LAST)
    assert books.check().is_clean
    MonthEnd.objects.filter(day=date(2025, 2, 28)).update(money=1)
    assert {found.rule for found in books.check().breaks} == {"month_ends"}


@pytest.mark.usefixtures("half_a_year")
def test_the_stock_list_of_a_past_day_agrees() -> None:
    keep_month_ends(before=LAST)
    held = straight_from_the_ledger(date(2025, 3, 31)).values()
    (row,) = stock_list(as_of=date(2025, 3, 31))
    assert (row.quantity, row.money) == (sum(q for q, _ in held), sum(m for _, m in held))


moves = st.lists(
    st.builds(
        DayOfLot,
        st.dates(date(2024, 11, 1), date(2025, 4, 30)),
        st.integers(1, 3),
        st.integers(-5, 5),
        st.integers(-5, 5),
    ),
    max_size=30,
)


@given(moves, st.dates(date(2024, 11, 1), date(2025, 6, 1)))
def test_a_month_end_sums_all_that_moved_by_then(moved: list[DayOfLot], before: date) -> None:
    for day, lot, quantity, money in month_ends(sorted(moved), before=before):
        by_then = [one for one in moved if one.lot == lot and one.day <= day]
        assert (quantity, money) == (sum(o.quantity for o in by_then), sum(o.money for o in by_then))
        assert (quantity, money) != (0, 0)
        assert day < before
        assert (day + timedelta(days=1)).day == 1
