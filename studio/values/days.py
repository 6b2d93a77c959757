"""Reads days as people write them into tables: 2026-03-31, or in the order of day, month and year usual there."""

import re
from collections.abc import Mapping
from datetime import date

from studio.errors import InputError
from studio.translation import _

_ISO = re.compile(r"([0-9]{4})-([0-9]{1,2})-([0-9]{1,2})(?:[T ].*)?")
_IN_ORDER = re.compile(r"([0-9]{1,4})[./ -]([0-9]{1,2})[./ -]([0-9]{1,4})\.?")
_MONTH = re.compile(r"(?:([0-9]{1,2})[./ -]([1-9][0-9]{3})|([1-9][0-9]{3})-([0-9]{1,2}))")
_WITH_NAME = re.compile(r"([0-9]{1,2})\.? ?([^\W\d_]{3,})\.?,? ?([0-9]{4})")


def in_figures(day: date, *, order: str, mark: str) -> str:
    """A day in figures, in an order of day, month and year: 31.03.2027."""
    figures = {"d": f"{day.day:02}", "m": f"{day.month:02}", "y": f"{day.year:04}"}
    return mark.join(figures[each] for each in order)


def read_day(text: str, *, order: str, months: Mapping[str, int], mark: str = "-") -> date:
    """Read a day. `order` is "dmy", "mdy" or "ymd"; `months` are names of months, folded, and their numbers.
    `mark` stands between the figures of the days that errors give as examples.

    Two digits of a year are of this century. Raises InputError, whose text says what to type instead.
    """
    tidied = " ".join(text.split())
    try:
        if match := _ISO.fullmatch(tidied):
            return date(*map(int, match.groups()))
        if (match := _WITH_NAME.fullmatch(tidied)) and (month := months.get(match[2].casefold()[:3])):
            return date(int(match[3]), month, int(match[1]))
        if match := _IN_ORDER.fullmatch(tidied):
            figures = dict(zip(order, match.groups(), strict=True))
            year = int(figures["y"]) + (2000 if len(figures["y"]) == 2 else 0)
            if len(figures["y"]) in (2, 4):
                return date(year, int(figures["m"]), int(figures["d"]))
    except ValueError:
        pass  # no such day, such as 31 February
    if (match := _MONTH.fullmatch(tidied)) and 1 <= int(match[1] or match[4]) <= 12:
        first_day = date(int(match[2] or match[3]), int(match[1] or match[4]), 1)
        first = in_figures(first_day, order=order, mark=mark)
        raise InputError(
            _("“{text}” is a month. Enter a day of it as well, such as {day}.", text=tidied, day=first)
        )
    example = in_figures(date(2027, 3, 31), order=order, mark=mark)
    raise InputError(_("“{text}” is not a date. Enter it as {example}.", text=tidied[:60], example=example))
