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
LONGEST_NUMBER = 20
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
    is_day: bool = False


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
            if key and (inside := bracket_in(text)):
                found[key] = inside
        return found


def bracket_in(text: str) -> str:
    """What stands in brackets in a heading; nothing where there are none."""
    found = _BRACKETS.search(text)
    return found[1].strip() if found else ""


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
    candidates = [
        Headings(line, _keys_of(line, lines[number:], wanted, remembered or {}))
        for number, line in enumerate(lines[:LINES_SEARCHED], start=1)
    ]
    best = max(candidates, key=lambda each: len({key for key in each.keys if key}))
    if any(best.keys):
        return best
    return next((each for each in candidates if len(each.line.cells) > 1), candidates[0])


def _keys_of(
    line: Line, below: Sequence[Line], wanted: Sequence[Wanted], remembered: Mapping[str, str]
) -> tuple[str, ...]:
    by_name = {plain(name): each.key for each in reversed(wanted) for name in each.names}
    known = {each.key for each in wanted} | {LEFT_OUT}
    keys: list[str] = []
    for place, cell in enumerate(line.cells):
        name = plain(cell)
        key = remembered.get(name)
        if key is None or key not in known:
            key = _meant_by(name, _column(below, place), wanted)
        keys.append(LEFT_OUT if key in keys else key)
    _match_slips(line, keys, by_name, remembered)
    return tuple(keys)


def _meant_by(name: str, cells: Sequence[str], wanted: Sequence[Wanted]) -> str:
    """The column that is called so. Where several are, what stands below tells days from anything else."""
    called = [each for each in wanted if name in {plain(known) for known in each.names}]
    if len(called) > 1:
        are_days = _are_days(cells)
        called = [each for each in called if each.is_day == are_days] or called
    return called[0].key if called else LEFT_OUT


def _column(lines: Sequence[Line], place: int) -> list[str]:
    return [line.cells[place] for line in lines if place < len(line.cells) and line.cells[place]]


# 31.3.2026, 2026-03-31, 31 Mar 2026, 31. März 2026
_DAY = re.compile(r"\d{1,4}[-./]\s?\d{1,2}[-./]\s?(?:\d{4}|\d{1,2})\b.*|\d{1,2}\.? ?[^\W\d]{3,}\.?,? \d{2,4}")


def _are_days(cells: Sequence[str]) -> bool:
    """Whether most of what stands in a column is days."""
    days = sum(1 for cell in cells if _DAY.fullmatch(cell))
    return 2 * days > len(cells)


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


# Three digits behind a mark may be thousands, so they tell nothing, except behind a nought.
_WITH_COMMA = re.compile(r"\D{0,4}(?:[0-9]+,(?:[0-9]{1,2}|[0-9]{4,})|0,[0-9]{3})(?:\s?\D{0,6})?")
_WITH_POINT = re.compile(r"\D{0,4}(?:[0-9]+\.(?:[0-9]{1,2}|[0-9]{4,})|0\.[0-9]{3})(?:\s?\D{0,6})?")
_ONE_POINT = re.compile(r"\D{0,4}[1-9][0-9]{0,2}\.[0-9]{3}(?:\s?\D{0,6})?")


# Within a text, such as "15 ml Ebb Blue + 7,5 ml Foam White"; days have more than one mark.
_COMMA_WITHIN = re.compile(r"(?<![\d.,])[0-9]+,[0-9]{1,2}(?![\d.,])")
_POINT_WITHIN = re.compile(r"(?<![\d.,])[0-9]+\.[0-9]{1,2}(?![\d.,])")


@dataclass(frozen=True, slots=True)
class Marks:
    """How a table writes numbers, and whether its cells have decimals behind commas, behind points, or behind both."""

    decimal_comma: bool
    commas: bool
    points: bool

    @property
    def says_both(self) -> bool:
        return self.commas and self.points

    @property
    def doubtful(self) -> str:
        """The marks before which three digits may be decimals or thousands, as far as the table tells."""
        if self.says_both:
            return ".,"
        is_told = self.commas or self.points
        return "" if is_told else "," if self.decimal_comma else "."

    def has_point_groups(self, rows: Sequence[Line]) -> bool:
        """Whether a cell such as 1.000 is a thousand: where decimals stand behind a comma, and behind nothing else."""
        if not self.decimal_comma or self.says_both:
            return False
        return any(
            _ONE_POINT.fullmatch(cell) for line in rows for cell in line.cells if len(cell) < LONGEST_NUMBER
        )


def marks_of(rows: Sequence[Line], *, usual: bool) -> Marks:
    """Whether a table writes 12,50 rather than 12.50; the studio's usual way where its cells tell nothing or both.

    Cells that are numbers tell it best; where none does, numbers within texts.
    """
    cells = [cell for line in rows for cell in line.cells]
    numbers = [cell for cell in cells if len(cell) < LONGEST_NUMBER]
    commas, points = (
        any(pattern.fullmatch(cell) for cell in numbers) for pattern in (_WITH_COMMA, _WITH_POINT)
    )
    within = [any(pattern.search(cell) for cell in cells) for pattern in (_COMMA_WITHIN, _POINT_WITHIN)]
    if not commas and not points:
        commas, points = within
    comma = commas if commas != points else usual
    return Marks(comma, commas=commas or within[0], points=points or within[1])


# 3/4/2026, 03-04-26, 3.4.26
_FIGURES = re.compile(r"([0-9]{1,2})([./-])([0-9]{1,2})\2(?:[0-9]{4}|[0-9]{2})\.?")
EITHER = "either"  # a table that writes days in both orders


def is_either_order(text: str) -> bool:
    """Whether a day in figures could be read with its month first or second."""
    found = _FIGURES.fullmatch(text)
    return found is not None and int(found[1]) <= 12 and int(found[3]) <= 12 and found[1] != found[3]


def day_order_of(rows: Sequence[Line], *, usual: str) -> str:
    """In which order a table writes days in figures: a 13 tells, and full stops, which put the day first.

    The studio's own order where nothing tells; EITHER where cells tell both. Years that come first are left alone.
    """
    if usual not in ("dmy", "mdy"):
        return usual
    orders = set()
    for found in (_FIGURES.fullmatch(cell) for line in rows for cell in line.cells):
        if found is None:
            continue
        first, second = int(found[1]), int(found[3])
        if first > 12 >= second or (found[2] == "." and second <= 12):
            orders.add("dmy")
        elif second > 12 >= first:
            orders.add("mdy")
    return usual if not orders else orders.pop() if len(orders) == 1 else EITHER
