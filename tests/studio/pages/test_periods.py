"""Usual periods by a word, on a day, and as links of a page."""

from datetime import date

import pytest
from django.test import RequestFactory

from studio.pages.periods import period_links
from studio.values.periods import quick_periods


@pytest.mark.parametrize(
    ("today", "periods"),
    [
        (
            "2026-03-31",
            [
                "2026-03-01 2026-03-31",
                "2026-02-01 2026-02-28",
                "2025-10-01 2025-12-31",
                "2026-01-01 2026-03-31",
                "2025-01-01 2025-12-31",
            ],
        ),
        (
            "2025-01-01",
            [
                "2025-01-01 2025-01-01",
                "2024-12-01 2024-12-31",
                "2024-10-01 2024-12-31",
                "2025-01-01 2025-01-01",
                "2024-01-01 2024-12-31",
            ],
        ),
        (
            "2024-03-15",
            [
                "2024-03-01 2024-03-15",
                "2024-02-01 2024-02-29",
                "2023-10-01 2023-12-31",
                "2024-01-01 2024-03-15",
                "2023-01-01 2023-12-31",
            ],
        ),
    ],
    ids=["the end of a month", "the first day of a year", "after a leap day"],
)
def test_the_month_and_year_of_a_day_and_those_and_the_quarter_before(today: str, periods: list[str]) -> None:
    found = quick_periods(date.fromisoformat(today))
    assert [f"{period.first} {period.last}" for period in found] == periods


def test_a_link_keeps_what_else_is_asked_and_begins_on_the_first_page(rf: RequestFactory) -> None:
    request = rf.get("/earnings/", {"by": "series", "page": "3", "first": "2020-01-01"})
    today = date(2026, 3, 31)
    links = period_links(request, today=today, shown=(date(2026, 2, 1), date(2026, 2, 28)))
    assert links[0].href == "?by=series&first=2026-03-01&last=2026-03-31"
    assert [link.is_shown for link in links] == [False, True, False, False, False]
