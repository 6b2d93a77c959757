"""Calendar months, and periods that are asked for by a word: this month, last year. Pure."""

from calendar import monthrange
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum

DAY = timedelta(days=1)


class Word(StrEnum):
    """What a period is called."""

    THIS_MONTH = "this_month"
    LAST_MONTH = "last_month"
    LAST_QUARTER = "last_quarter"
    THIS_YEAR = "this_year"
    LAST_YEAR = "last_year"


@dataclass(frozen=True, slots=True)
class QuickPeriod:
    """A period from the beginning of one day to the end of another."""

    word: Word
    first: date
    last: date


def months_after(day: date, months: int) -> date:
    """The same day so many months later, or the last day of that month where it has no such day."""
    years, month = divmod(day.year * 12 + day.month - 1 + months, 12)
    return date(years, month + 1, min(day.day, monthrange(years, month + 1)[1]))


def quick_periods(today: date) -> list[QuickPeriod]:
    """The calendar month and year of a day, up to that day, and the whole ones and the quarter before them."""
    month, year = today.replace(day=1), today.replace(month=1, day=1)
    quarter = months_after(month, -((today.month - 1) % 3))
    last_month = month - DAY
    return [
        QuickPeriod(Word.THIS_MONTH, month, today),
        QuickPeriod(Word.LAST_MONTH, last_month.replace(day=1), last_month),
        QuickPeriod(Word.LAST_QUARTER, months_after(quarter, -3), quarter - DAY),
        QuickPeriod(Word.THIS_YEAR, year, today),
        QuickPeriod(Word.LAST_YEAR, year.replace(year=year.year - 1), year - DAY),
    ]
