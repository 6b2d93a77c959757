"""Reads and writes the numbers people type: exact, one decimal mark per studio, the digits 0 to 9 only."""

import re
import unicodedata
from fractions import Fraction

from studio.errors import InputError
from studio.translation import _

LONGEST_TEXT = 60
LONGEST_WHOLE = 18
NO_BREAK_SPACE = "\u00a0"
MINUS = "\u2212"  # for people: a hyphen is too short, and may be left behind at the end of a line

_VULGAR = "½⅓⅔¼¾⅕⅖⅗⅘⅙⅚⅐⅛⅜⅝⅞⅑⅒"
_LEADING_NUMBER = re.compile(f"[0-9.,/⁄ {_VULGAR}]*")
_MIXED_NUMBER = re.compile(r"(?:([0-9]+) )?([0-9]+)/([0-9]+)")


def tidy(text: str, *, example: str) -> str:
    """Return text with single plain spaces; raises InputError when it is empty, too long or not plainly typed."""
    if len(text) > LONGEST_TEXT:
        raise InputError(_("Too long; please shorten it, such as {example}.", example=example))
    tidied = " ".join(text.split())
    if not tidied:
        raise InputError(_("Please enter a value. For example {example}.", example=example))
    if any(character.isdecimal() and not character.isascii() for character in tidied):
        raise InputError(_("Use the digits 0 to 9, such as {example}.", example=example))
    if not tidied.isprintable():
        raise InputError(
            _("That contains invisible characters. Type it again, such as {example}.", example=example)
        )
    return tidied


def split_number(text: str) -> tuple[str, str]:
    """Split tidied text into its leading number and whatever follows it."""
    match = _LEADING_NUMBER.match(text)
    end = match.end() if match else 0
    return text[:end].strip(), text[end:].strip()


def read_number(text: str, *, decimal_comma: bool, lone_dot_groups: bool = False) -> Fraction:
    """Read a decimal, fraction or mixed number exactly (1.5, 1/2, 1 1/2, 1½); raises InputError if it cannot."""
    if "/" not in text and "⁄" not in text and not any(character in _VULGAR for character in text):
        return read_decimal(text, decimal_comma=decimal_comma, lone_dot_groups=lone_dot_groups)
    # NFKC writes ½ as 1⁄2.
    spelled = re.sub(f"[{_VULGAR}]", lambda match: " " + unicodedata.normalize("NFKC", match[0]), text)
    spelled = re.sub(r" ?/ ?", "/", " ".join(spelled.replace("⁄", "/").split()))
    match = _MIXED_NUMBER.fullmatch(spelled)
    whole, top, bottom = match.groups() if match else (None, "0", "0")
    if int(bottom) == 0 or (whole is not None and int(top) >= int(bottom)):
        raise InputError(_("“{text}” is not a fraction. Enter it as 1/2 or 1 1/2.", text=text))
    return int(whole or 0) + Fraction(int(top), int(bottom))


def in_own_mark(text: str, *, decimal_comma: bool) -> str:
    """A number with at most two decimals after the other decimal mark, written with this one: no thousands end so."""
    mark, other = (",", ".") if decimal_comma else (".", ",")
    return re.sub(
        rf"(?<![0-9.,])([0-9]{{1,3}}){re.escape(other)}([0-9]{{1,2}})(?![0-9.,])", rf"\1{mark}\2", text
    )


def read_decimal(text: str, *, decimal_comma: bool, lone_dot_groups: bool = False) -> Fraction:
    """Read a decimal number exactly, thousands grouped or not; raises InputError when it is open to two readings.

    With a decimal comma one dot (1.250) is refused, unless lone_dot_groups says that no decimals follow it.
    """
    mark, group = (",", ".") if decimal_comma else (".", ",")
    whole, has_mark, decimals = text.partition(mark)
    grouped = decimal_comma and not has_mark and whole.count(group) == 1 and not lone_dot_groups
    digits = None if grouped else _ungrouped(whole, group, spaces=decimal_comma)
    if digits is None or (decimals and not _plain(decimals)):
        raise InputError(_not_one_number(text, decimal_comma))
    return Fraction(f"{digits}.{decimals or 0}")


def _not_one_number(text: str, decimal_comma: bool) -> str:
    if decimal_comma:
        return _(
            "“{text}” is not a single number. Enter decimals as 1,5 with a comma, thousands as 1250.",
            text=text,
        )
    return _(
        "“{text}” is not a single number. Enter decimals as 1.5 with a point, thousands as 1250.", text=text
    )


def read_small_whole(text: str) -> int | None:
    """A whole number of up to 18 digits sent by a form or an address, or None: Python refuses to read thousands."""
    return int(text) if len(text) <= LONGEST_WHOLE and _plain(text) else None


def _plain(text: str) -> bool:
    return text.isascii() and text.isdigit()


def _ungrouped(whole: str, group: str, *, spaces: bool) -> str | None:
    """Return the digits of a whole part (none, as in ".5", is 0), or None when not grouped in threes."""
    if _plain(whole) or not whole:
        return whole or "0"
    separator = " " if spaces and " " in whole else group
    first, *rest = whole.split(separator)
    well_grouped = _plain(first) and len(first) <= 3 and not first.startswith("0")
    if rest and well_grouped and all(_plain(part) and len(part) == 3 for part in rest):
        return first + "".join(rest)
    return None


def format_scaled(
    amount: int, places: int, *, decimal_comma: bool = False, grouping: bool = False, at_least: int = 0
) -> str:
    """Write amount / 10^places in plain digits, trailing zeros trimmed down to at_least decimals.

    Thousands are grouped by a comma or, with a decimal comma, by a no-break space: 1.250 is never written.
    """
    whole, rest = divmod(abs(amount), 10**places)
    decimals = f"{rest:0{places}d}".rstrip("0").ljust(at_least, "0") if places else ""
    mark, group = (",", NO_BREAK_SPACE) if decimal_comma else (".", ",")
    digits = f"{whole:,}".replace(",", group) if grouping else str(whole)
    return ("-" if amount < 0 else "") + digits + (mark + decimals if decimals else "")
