"""Reads days as people write them into tables: 2026-03-31, or in the order of day, month and year usual there."""

import re
from collections.abc import Mapping
from datetime import date

from studio.errors import InputError
from studio.translation import _

_ISO = re.compile(r"([0-9]{4})-([0-9]{1,2})-([0-9]{1,2})(?:[T ].*)?")
_IN_ORDER = re.compile(r"([0-9]{1,4})[./ -]([0-9]{1,2})[./ -]([0-9]{1,4})\.?")
_WITH_NAME = re.compile(r"([0-9]{1,2})\.? ?([^\W\d_]{3,})\.?,? ?([0-9]{4})")


def read_day(text: str, *, order: str, months: Mapping[str, int]) -> date:
    """Read a day. `order` is "dmy", "mdy" or "ymd"; `months` are names of months, folded, and their numbers.

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
    raise InputError(_("“{text}” is not a date. Enter it as 2027-03-31.", text=tidied[:60]))
