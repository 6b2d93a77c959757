"""Links to the usual periods, on a page that is asked about one: this month, the last quarter, last year."""

from datetime import date
from typing import Any, NamedTuple

from django.http import HttpRequest
from django.utils.translation import gettext_lazy

from studio.values.periods import Word, quick_periods

LABELS: dict[Word, Any] = {
    Word.THIS_MONTH: gettext_lazy("This month"),
    Word.LAST_MONTH: gettext_lazy("Last month"),
    Word.LAST_QUARTER: gettext_lazy("Last quarter"),
    Word.THIS_YEAR: gettext_lazy("This year"),
    Word.LAST_YEAR: gettext_lazy("Last year"),
}


class PeriodLink(NamedTuple):
    """A period by its name, its address on the same page, and whether the page shows it."""

    label: str
    href: str
    is_shown: bool


def period_links(
    request: HttpRequest, *, today: date, shown: tuple[date | None, date | None]
) -> list[PeriodLink]:
    """The page with all else that is asked of it, for each of these periods; `shown` is the one it shows now."""
    links = []
    for period in quick_periods(today):
        asked = request.GET.copy()
        asked.pop("page", None)
        asked["first"], asked["last"] = period.first.isoformat(), period.last.isoformat()
        href, is_shown = f"?{asked.urlencode()}", (period.first, period.last) == shown
        links.append(PeriodLink(str(LABELS[period.word]), href, is_shown))
    return links
