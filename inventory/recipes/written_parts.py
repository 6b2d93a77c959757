"""Parts of a recipe as somebody writes them: "Sail Loft White 2 parts", "½ water". No Django.

A number beside the word for parts is the surest sign, then one at the end of the line, then one at its beginning; what
is left is the name. Nothing is saved from here unseen.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass

from studio.translation import _

LONGEST_LINE = 200

_NUMBER = r"(\d+ \d+/\d+|\d+/\d+|\d*[½⅓⅔¼¾⅛]|\d+(?:[.,]\d+)?)"
_ANY = re.compile(rf"(?<![\w.,/]){_NUMBER} ?(?:parts?|teile?n?|%)(?!\w)(?: (?:of|von))?", re.IGNORECASE)
_LAST = re.compile(rf"(?<![\w.,/]){_NUMBER}$")
_FIRST = re.compile(rf"^{_NUMBER} ?[x×]? (?=\D)", re.IGNORECASE)
_BULLET = re.compile(r"^\s*(?:[-*•–·]|\d{1,2}[.)](?=\s))\s*")
_LOOSE_END = re.compile(r"^[\s,;:=|+\-–]+|[\s,;:=|+\-–]+$")


@dataclass(frozen=True, slots=True)
class WrittenPart:
    """What one line says. `parts` stays as written ("1 1/2"), for the usual reader."""

    text: str
    name: str
    parts: str

    @property
    def advice(self) -> list[str]:
        """What to look at again, in words."""
        problems = []
        if not self.name:
            problems.append(_("No name was found."))
        if not self.parts:
            problems.append(_("No number of parts was found."))
        return problems


def read_parts(text: str) -> Iterator[WrittenPart]:
    """Every line of a text that is not blank, as it is understood."""
    for line in text.splitlines():
        if line.strip():
            yield read_part(line)


def read_part(text: str) -> WrittenPart:
    """One line. What cannot be found is left blank."""
    written = " ".join(text.split())[:LONGEST_LINE]
    rest = _BULLET.sub("", written)
    for pattern in (_ANY, _LAST, _FIRST):
        if found := pattern.search(rest):
            return WrittenPart(written, _name(f"{rest[: found.start()]} {rest[found.end() :]}"), found[1])
    return WrittenPart(written, _name(rest), "")


def _name(text: str) -> str:
    while _LOOSE_END.search(text):
        text = _LOOSE_END.sub("", text)
    return " ".join(text.split())
