"""Which line of a table names its columns, and which column each heading means."""

import re
import unicodedata
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from difflib import get_close_matches

from studio.imports.reading import Line

LINES_SEARCHED = 20
ALIKE = 0.86
LEFT_OUT = ""
_BRACKETS = re.compile(r"[(\[]([^)\]]*)[)\]]")
_TOTALS = frozenset(
    [
        "total",
        "totals",
        "sum",
        "subtotal",
        "sub-total",
        "gesamt",
        "summe",
        "gesamtsumme",
        "zwischensumme",
        "endsumme",
    ]
)


@dataclass(frozen=True, slots=True)
class Wanted:
    """A column that a kind of import takes: its key, and every name by which a heading may call it."""

    key: str
    names: Sequence[str]


@dataclass(frozen=True, slots=True)
class Headings:
    """The line that names the columns, and for each cell of it the key of the column that it means, or LEFT_OUT."""

    line: Line
    keys: tuple[str, ...]

    @property
    def bracketed(self) -> Mapping[str, str]:
        """What stands in brackets after each heading, such as its unit: {"pack_size": "ml"}."""
        found = {}
        for key, text in zip(self.keys, self.line.cells, strict=True):
            if key and (brackets := _BRACKETS.search(text)):
                found[key] = brackets[1].strip()
        return found


def plain(text: str) -> str:
    """A heading as it is compared: without brackets, capitals, accents, stars and punctuation."""
    text = unicodedata.normalize("NFKD", _BRACKETS.sub(" ", text).replace("ß", "ss")).casefold()
    letters = "".join(character for character in text if not unicodedata.combining(character))
    return " ".join(re.sub(r"[^\w%]+", " ", letters.replace("_", " ")).split())


def find_headings(
    lines: Sequence[Line], wanted: Sequence[Wanted], remembered: Mapping[str, str] | None = None
) -> Headings:
    """The line among the first that names the most columns; the first of several cells where none names any.

    `remembered` says what plain headings meant the last time; it comes before every name.
    """
    candidates = [Headings(line, _keys_of(line, wanted, remembered or {})) for line in lines[:LINES_SEARCHED]]
    best = max(candidates, key=lambda each: len({key for key in each.keys if key}))
    if any(best.keys):
        return best
    return next((each for each in candidates if len(each.line.cells) > 1), candidates[0])


def _keys_of(line: Line, wanted: Sequence[Wanted], remembered: Mapping[str, str]) -> tuple[str, ...]:
    by_name = {plain(name): each.key for each in reversed(wanted) for name in each.names}
    known = {each.key for each in wanted} | {LEFT_OUT}
    keys: list[str] = []
    for cell in line.cells:
        name = plain(cell)
        key = remembered.get(name)
        if key is None or key not in known:
            key = by_name.get(name, LEFT_OUT)
        keys.append(LEFT_OUT if key in keys else key)
    _match_slips(line, keys, by_name, remembered)
    return tuple(keys)


def _match_slips(
    line: Line, keys: list[str], by_name: Mapping[str, str], remembered: Mapping[str, str]
) -> None:
    """A heading that is nobody's name may be a slip: it means the free column that is called nearly so."""
    for place, cell in enumerate(line.cells):
        name = plain(cell)
        if keys[place] or len(name) < 5 or name in remembered or name.removesuffix("s") in by_name:
            continue  # a plural counts things: "Suppliers" is no supplier
        free = [known for known, key in by_name.items() if key not in keys]
        close = get_close_matches(name, free, n=1, cutoff=ALIKE)
        if close:
            keys[place] = by_name[close[0]]


def rows_below(lines: Sequence[Line], headings: Headings) -> tuple[list[Line], list[Line]]:
    """The lines below the headings: rows, and those left out because they are totals or repeat the headings."""
    rows: list[Line] = []
    left_out: list[Line] = []
    for line in lines:
        if line.number <= headings.line.number:
            continue
        is_heading = line.cells == headings.line.cells
        (left_out if is_heading or _is_total(line) else rows).append(line)
    return rows, left_out


def _is_total(line: Line) -> bool:
    first = next((plain(cell) for cell in line.cells if cell), "")
    return bool(first) and first.split()[0] in _TOTALS and len(first.split()) <= 2


# Three digits behind a mark may be thousands, so they tell nothing.
_WITH_COMMA = re.compile(r"\D{0,4}[0-9]+,(?:[0-9]{1,2}|[0-9]{4,})(?:\s?\D{0,6})?")
_WITH_POINT = re.compile(r"\D{0,4}[0-9]+\.(?:[0-9]{1,2}|[0-9]{4,})(?:\s?\D{0,6})?")


# Within a text, such as "15 ml Ebb Blue + 7,5 ml Foam White"; days have more than one mark.
_COMMA_WITHIN = re.compile(r"(?<![\d.,])[0-9]+,[0-9]{1,2}(?![\d.,])")
_POINT_WITHIN = re.compile(r"(?<![\d.,])[0-9]+\.[0-9]{1,2}(?![\d.,])")


def writes_decimal_comma(rows: Sequence[Line], *, usual: bool) -> bool:
    """Whether a table writes 12,50 rather than 12.50; the studio's usual way where its cells tell nothing or both.

    Cells that are numbers tell it best; where none does, numbers within texts.
    """
    cells = [cell for line in rows for cell in line.cells]
    numbers = [cell for cell in cells if len(cell) < 20]
    commas, points = (
        any(pattern.fullmatch(cell) for cell in numbers) for pattern in (_WITH_COMMA, _WITH_POINT)
    )
    if not commas and not points:
        commas, points = (
            any(pattern.search(cell) for cell in cells) for pattern in (_COMMA_WITHIN, _POINT_WITHIN)
        )
    return commas if commas != points else usual
