"""Parts of a recipe as somebody writes them: "Sail Loft White 2 parts", "½ water". No Django.

A number beside the word for parts is the surest sign, then one at the end of the line, then one at its beginning; what
is left is the name. Nothing is saved from here unseen.
"""

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction

from studio.errors import InputError
from studio.translation import _
from studio.values.numbers import in_own_mark, read_number
from studio.values.units import FluidSystem, find_unit

LONGEST_LINE = 200

_NUMBER = r"(\d+ \d+/\d+|\d+/\d+|\d*[½⅓⅔¼¾⅛]|\d+(?:[.,]\d+)?)"
_ANY = re.compile(rf"(?<![\w.,/]){_NUMBER} ?(?:parts?|teile?n?|%)(?!\w)(?: (?:of|von))?", re.IGNORECASE)
_LAST = re.compile(rf"(?<![\w.,/]){_NUMBER}$")
_FIRST = re.compile(rf"^{_NUMBER} ?[x×]? (?=\D)", re.IGNORECASE)
_ESTIMATE = re.compile(
    rf"(?<![\w.,/])(?P<count>{_NUMBER} ?|(?:an?|one|eine?n?) )(?P<unit>[^\W\d_]+)(?!\w)(?: (?:of|von))?",
    re.IGNORECASE,
)
# What is judged by eye, in parts of a mix of two or three: a splash is about 4 mL in 100 mL of it. An estimate.
_ESTIMATED: Mapping[str, Fraction] = {"splash": Fraction(1, 10), "drop": Fraction(1, 1000)}
BULLET = re.compile(r"^\s*(?:[-*•–·]|\d{1,2}[.)](?=\s))\s*")
_AND = re.compile(r"^(?:and|plus|und) ", re.IGNORECASE)
LOOSE_END = re.compile(r"^[\s,;:=|+\-–]+|[\s,;:=|+\-–]+$")


@dataclass(frozen=True, slots=True)
class WrittenPart:
    """What one line says. `parts` stays as written ("1 1/2"), for the usual reader."""

    text: str
    name: str
    parts: str
    estimate: str = ""  # "a splash", where the parts are a guess from that
    hint: str = ""  # what else it may be, to whoever knows the materials

    @property
    def advice(self) -> list[str]:
        """What to look at again, in words."""
        problems = self.estimate_advice
        if not self.name:
            problems.append(_("No name was found."))
        if not self.parts:
            problems.append(_("No number of parts was found."))
        if self.hint:
            problems.append(self.hint)
        return problems

    @property
    def estimate_advice(self) -> list[str]:
        if not self.estimate:
            return []
        return [
            _(
                "“{text}” was read as {parts} part, an estimate. Change it if you know better.",
                text=self.estimate,
                parts=self.parts,
            )
        ]


def read_parts(text: str) -> Iterator[WrittenPart]:
    """Every line of a text that is not blank, as it is understood."""
    for line in text.splitlines():
        if line.strip():
            yield read_part(line)


def read_part(text: str) -> WrittenPart:
    """One line. What cannot be found is left blank."""
    written = " ".join(text.split())[:LONGEST_LINE]
    rest = _AND.sub("", BULLET.sub("", written))
    if not _ANY.search(rest) and (judged := _judged_by_eye(rest)):
        words, parts = judged
        estimate = f"{words['count'].strip()} {words['unit']}"
        return WrittenPart(written, _name_around(words, rest), parts, estimate)
    for pattern in (_ANY, _LAST, _FIRST):
        if found := pattern.search(rest):
            return WrittenPart(written, _name_around(found, rest), found[1])
    return WrittenPart(written, _name(rest), "")


def typed_parts_in(text: str, *, decimal_comma: bool) -> Fraction | None:
    """Thousandths of a part where a text is so many parts, "2.5 parts"; None for anything else."""
    found = _ANY.fullmatch(" ".join(text.split()))
    if found is None or "%" in text:
        return None
    try:
        return 1000 * read_number(
            in_own_mark(found[1], decimal_comma=decimal_comma), decimal_comma=decimal_comma
        )
    except InputError:
        return None


def _judged_by_eye(text: str) -> tuple[re.Match[str], str] | None:
    """Splashes or drops in a line, and what they are taken for in parts."""
    for found in _ESTIMATE.finditer(text):
        count, unit = found["count"].strip(), find_unit(found["unit"], FluidSystem.US)
        if unit is None or not unit.is_estimate:
            continue
        try:
            number = read_number(count, decimal_comma="," in count) if not count.isalpha() else Fraction(1)
        except InputError:
            continue
        return found, str(number * _ESTIMATED[unit.code])
    return None


def _name_around(found: re.Match[str], text: str) -> str:
    return _name(f"{text[: found.start()]} {text[found.end() :]}")


def _name(text: str) -> str:
    while LOOSE_END.search(text):
        text = LOOSE_END.sub("", text)
    return " ".join(text.split())
