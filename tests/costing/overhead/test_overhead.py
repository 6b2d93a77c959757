"""Overhead by an absorption rate: worked out from estimates, taken over, and held against what was paid."""

from datetime import date

import pytest
from django.db import IntegrityError, connection, transaction
from django.test.utils import CaptureQueriesContext
from hypothesis import given
from hypothesis import settings as examples
from hypothesis import strategies as st

from costing.cost_sheets.queries import cost_sheet
from costing.errors import CostingError
from costing.overhead.actions import take_over_rate
from costing.overhead.calculations import Absorption, overhead_rate
from costing.overhead.models import OverheadLine, OverheadYear
from costing.overhead.queries import YearFigures, year_figures
from costing.pieces.actions.pieces import add_labour
from costing.pieces.calculations import State
from costing.selling.actions import sell
from studio.errors import InputError
from studio.preferences.models import Rates
from tests.costing.overhead.stories import FIRST, LAST, a_year
from tests.costing.stories import LATER, a_piece, make_channel, pieces_of, two_ring_pours, use_rates
from tests.days import DAY, june
from tests.making import make_pour, make_rates, make_submission, money, take_back

pytestmark = pytest.mark.django_db
PENNY = 10_000


def figures(year: OverheadYear) -> YearFigures:
    [found] = year_figures([OverheadYear.objects.prefetch_related("lines").get(pk=year.pk)])
    return found


# Published examples: OpenStax, Principles of Accounting, Volume 2: Managerial Accounting, chapter 4.


def test_the_rate_is_estimated_overhead_by_estimated_activity() -> None:
    """OpenStax, section 4.5: 250,000 of overhead for an activity of 100,000 makes 2.50."""
    assert overhead_rate(money(250_000), 100_000, minor_unit=PENNY) == money("2.50")


@pytest.mark.parametrize(
    ("paid", "absorbed", "under"),
    [
        (256_500, 250_000, 6_500),  # OpenStax, section 4.6: under-applied
        (248_000, 250_000, -2_000),  # OpenStax, section 4.6: over-applied
        (209_250, 209_040, 210),  # OpenStax, section 4.6: 6,240 hours at 33.50, under-applied
        (100, 100, 0),
    ],
)
def test_paid_less_absorbed_is_under_absorbed_above_zero_and_over_absorbed_below(
    paid: int, absorbed: int, under: int
) -> None:
    absorption = Absorption(money(paid), money(absorbed))
    assert absorption.difference == money(under)
    assert (absorption.is_under, absorption.is_over) == (under > 0, under < 0)
    assert absorption.amount == abs(money(under))


def test_hours_at_the_rate_are_what_is_absorbed() -> None:
    """OpenStax, section 4.6: 6,240 hours at 33.50 absorb 209,040."""
    assert 6_240 * overhead_rate(money(209_040), 6_240, minor_unit=PENNY) == money(209_040)


# The studio's own


def test_the_lines_of_a_year_make_its_rate_and_one_touch_takes_it_over() -> None:
    """420.00 ÷ 175 hours are 2.40 an hour."""
    year = a_year(("Rent", "240", None), ("Insurance", "84", None), ("Electricity", "96", None), hours=175)
    found = figures(year)
    assert (found.estimated, found.rate, found.paid, found.absorption) == (
        money(420), money("2.40"), None, None,
    )  # fmt: skip
    for _ in range(2):
        take_over_rate(year, submission=make_submission())
    row = Rates.objects.get()
    assert (row.holds_from, row.overhead_per_hour, row.wage_per_hour) == (FIRST, money("2.40"), None)


def test_taking_it_over_leaves_what_else_is_set_from_that_day() -> None:
    make_rates(FIRST, wage_per_hour=money(12), overhead_per_hour=money(1))
    take_over_rate(a_year(("Rent", "520", None)), submission=make_submission())
    row = Rates.objects.get()
    assert (row.wage_per_hour, row.overhead_per_hour) == (money(12), money(1))
    take_over_rate(a_year(("Rent", "1040", None), last=LAST - DAY), submission=make_submission())
    row.refresh_from_db()
    assert (row.wage_per_hour, row.overhead_per_hour) == (money(12), money(2))


def test_a_year_without_an_estimate_makes_no_rate_and_says_what_to_do() -> None:
    for year in (a_year(), a_year(("Rent", "0", None), last=LAST - DAY)):
        assert figures(year).rate is None
        with pytest.raises(CostingError, match="at least one line"):
            take_over_rate(year, submission=make_submission())
    with pytest.raises(CostingError, match="hours"):
        overhead_rate(money(1), 0, minor_unit=PENNY)
    assert not Rates.objects.exists()


def test_a_rate_beyond_what_can_be_kept_is_refused() -> None:
    most = "9000000000"
    year = a_year(("Rent", most, None), ("Castle", most, None), hours=1)
    with pytest.raises(CostingError, match="too large"):
        take_over_rate(year, submission=make_submission())


def test_the_work_of_the_year_absorbs_overhead_at_the_rate_of_its_day() -> None:
    """100 minutes at 3.00 an hour are 5.00; 30 at 4.00 from 9 June are 2.00."""
    make_rates(overhead_per_hour=money(3))
    make_rates(LATER, overhead_per_hour=money(4))
    first, _second = two_ring_pours(minutes=100)
    piece = a_piece(pours=[first])
    add_labour(piece=piece, work="Sanding", minutes=30, submission=make_submission(on=LATER))
    found = figures(a_year(("Rent", "10.00", "8.50")))
    assert (found.minutes, found.absorbed, found.unrated) == (130, money(7), 0)
    assert found.absorption is not None
    assert found.absorption.difference == money("1.50")


def test_what_is_absorbed_is_what_the_cost_sheets_of_its_pieces_charge() -> None:
    use_rates(overhead="2.11")
    pieces = pieces_of(two_ring_pours(minutes=47)[0].session)
    for minutes, piece in enumerate(pieces, start=7):
        add_labour(piece=piece, work="Sanding", minutes=minutes, submission=make_submission(on=LATER))
    charged = sum(cost_sheet(piece).summary.overhead for piece in pieces)
    assert figures(a_year()).absorbed == charged > 0


def test_only_work_of_its_own_days_that_stands_counts() -> None:
    use_rates(overhead="3.00")
    session = two_ring_pours(minutes=60)[0].session
    assert figures(a_year(first=june(1), last=june(1))).absorbed == money(3)
    assert figures(a_year(first=june(2), last=june(30))).absorbed == 0
    assert figures(a_year(first=june(1) - DAY, last=june(1) - DAY)).absorbed == 0
    take_back(session.posting)
    assert figures(a_year()).minutes == 0


def test_a_sold_piece_has_absorbed_as_before() -> None:
    use_rates(overhead="3.00")
    piece = a_piece(pours=two_ring_pours(minutes=60)[:1], state=State.FOR_SALE)
    year = a_year()
    before = figures(year).absorbed
    sell(piece=piece, channel=make_channel(), price=money(9), submission=make_submission(on=LATER))
    assert figures(year).absorbed == before == money(3)


def test_minutes_of_days_without_a_rate_are_told_and_absorb_nothing() -> None:
    make_rates(LATER, overhead_per_hour=money(3))
    two_ring_pours(minutes=60)
    found = figures(a_year())
    assert (found.minutes, found.unrated, found.absorbed) == (60, 60, 0)


def test_paid_is_the_total_or_else_every_line_and_unknown_while_one_is_missing() -> None:
    lines = (("Rent", "240", "250"), ("Insurance", "84", None))
    assert figures(a_year(*lines)).paid is None
    assert figures(a_year(*lines, last=LAST - DAY, total="330")).paid == money(330)
    assert figures(a_year(*lines[:1], last=LAST - DAY * 2)).paid == money(250)


@pytest.mark.parametrize(
    ("facts", "field"),
    [
        ({"first": LAST, "last": FIRST}, "ends_on"),
        ({"last": date(2026, 1, 2)}, "ends_on"),
        ({"hours": 0}, "hours"),
        ({"hours": 100_001}, "hours"),
        ({"total": "-1"}, "paid_in_total"),
    ],
)
def test_a_senseless_year_is_refused_at_its_column(facts: dict[str, object], field: str) -> None:
    with pytest.raises(InputError) as refused:
        a_year(**facts)  # type: ignore[arg-type]
    assert refused.value.field == field
    assert not OverheadYear.objects.exists()


def test_a_leap_year_is_a_year() -> None:
    assert a_year(first=date(2024, 1, 1), last=date(2024, 12, 31)).pk


def test_the_same_time_twice_and_two_lines_of_one_name_are_refused_and_nothing_is_half_written() -> None:
    a_year()
    with pytest.raises(InputError, match="entered already"):
        a_year()
    with pytest.raises(InputError, match="line of that name"):
        a_year(("Rent", "1", None), ("Rent", "2", None), last=LAST - DAY)
    assert (OverheadYear.objects.count(), OverheadLine.objects.count()) == (1, 0)


@pytest.mark.parametrize(
    "wrong",
    [
        lambda: OverheadYear.objects.update(ends_on=FIRST - DAY),
        lambda: OverheadYear.objects.update(hours=0),
        lambda: OverheadYear.objects.update(paid_in_total=-1),
        lambda: OverheadLine.objects.update(estimated=-1),
        lambda: OverheadLine.objects.update(paid=-1),
        lambda: OverheadLine.objects.update(name="Rent"),
        lambda: OverheadYear.objects.bulk_create([OverheadYear(starts_on=FIRST, ends_on=LAST, hours=1)]),
    ],
)
def test_the_database_refuses_it_too(wrong: object) -> None:
    a_year(("Rent", "1", None), ("Insurance", "2", None))
    with pytest.raises(IntegrityError), transaction.atomic():
        wrong()  # type: ignore[operator]


def test_many_years_take_as_many_queries_as_one() -> None:
    use_rates()
    for month in range(1, 6):
        a_year(("Rent", "1", "1"), first=date(2025, month, 1), last=date(2025, month, 20))
    make_pour(on=june(1))
    counts = []
    for most in (1, 5):
        with CaptureQueriesContext(connection) as asked:
            year_figures(list(OverheadYear.objects.prefetch_related("lines")[:most]))
        counts.append(len(asked))
    assert counts[0] == counts[1]
    assert year_figures([]) == []


amounts = st.integers(min_value=0, max_value=10**12)


@examples(max_examples=100)
@given(estimated=st.integers(min_value=1, max_value=10**12), hours=st.integers(min_value=1, max_value=10**5))
def test_the_rate_times_the_hours_is_the_estimate_but_for_half_a_penny_an_hour(
    estimated: int, hours: int
) -> None:
    rate = overhead_rate(estimated, hours, minor_unit=PENNY)
    assert rate % PENNY == 0
    assert abs(rate * hours - estimated) * 2 <= PENNY * hours


@given(paid=amounts, absorbed=amounts)
def test_what_is_absorbed_and_what_is_not_add_up_to_what_was_paid(paid: int, absorbed: int) -> None:
    absorption = Absorption(paid, absorbed)
    assert absorbed + absorption.difference == paid
    assert not (absorption.is_under and absorption.is_over)
