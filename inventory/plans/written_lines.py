"""Lines of a plan as somebody writes them: "6 boards 20x20 ring pour, white 3 / blue 1". No Django.

The words are looked for in the names that the studio has: first the technique, then the surface with how many of it;
what is left are the colours with their parts. What fits two names is said, never guessed: nothing is saved from here
unseen.
"""

import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from inventory.materials.name_matching import could_be, fitting, words_of
from inventory.materials.written_facts import LONGEST_LINE
from inventory.recipes.written_parts import BULLET, LOOSE_END, read_part
from studio.translation import _

LONGEST_NAME = 12  # words of a surface's name that are looked for together

_PIECES = re.compile(r",(?!\d)|[;\t]|(?<!\d)(?<!\d )\bin\b|\b(?:on|auf|with|mit)\b", re.IGNORECASE)
_COLOURS = re.compile(r"\s*[/+&]\s*(?!\d+\b(?!\s*\w))|\s+(?:and|und)\s+", re.IGNORECASE)
_COUNT_BEFORE = re.compile(r"(?:^|\s)(\d{1,4})\s*[x×]?(?:\s+([^\W\d]+))?$", re.IGNORECASE)
_COUNT_AFTER = re.compile(r"^[x×:]?\s*(\d{1,4})$", re.IGNORECASE)
_POUR = re.compile(r"\s+(?:pour|guss)$", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class PlannedColour:
    """A colour as it is written, which of the studio's it is, and its parts as they would be typed."""

    words: str
    parts: str
    material: int | None


@dataclass(slots=True)
class PlannedLine:
    """What one line says; what cannot be found is blank and named in `advice`."""

    text: str
    count: int = 1
    surface: int | None = None
    new_surface: str = ""  # what a surface is called that nothing in the studio is
    technique: int | None = None
    poured: str = ""
    colours: list[PlannedColour] = field(default_factory=list)
    advice: list[str] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class _Found:
    """A surface in a piece of a line: which ones it can be, and what stands before and after its words."""

    fitting: Sequence[int]
    words: str
    before: str
    after: str


@dataclass(frozen=True, slots=True)
class PlanReader:
    """Reads lines against the names that can be chosen; `is_surface` says whether words tell of one by their kind."""

    surfaces: Mapping[int, str]
    techniques: Mapping[int, str]
    colours: Mapping[int, str]
    is_surface: Callable[[str], bool]

    def read_lines(self, text: str) -> Iterator[PlannedLine]:
        """Every line of a text that is not blank, as it is understood."""
        for line in text.splitlines():
            if line.strip():
                yield self.read(line)

    def read(self, text: str) -> PlannedLine:
        from inventory.materials.written_lines import take_amount  # slow to import

        line = PlannedLine(" ".join(text.split())[:LONGEST_LINE])
        rest, line.poured = take_amount(BULLET.sub("", text.strip()[:LONGEST_LINE]))
        rest, line.technique = self._take_technique(rest)
        pieces = [piece for each in _PIECES.split(rest) if (piece := _trimmed(each))]
        colours = self._take_surface(pieces, line)
        for words in (each for piece in colours for each in _COLOURS.split(piece)):
            if _trimmed(words):
                line.colours.append(self._colour(_trimmed(words), line))
        return line

    def _take_technique(self, text: str) -> tuple[str, int | None]:
        """The technique by its name, or by what stands before "pour" unless another name has that word too."""
        others = {
            word for name in (*self.surfaces.values(), *self.colours.values()) for word in words_of(name)
        }
        spoken = [(name, pk) for pk, name in self.techniques.items()]
        spoken += [
            (_POUR.sub("", name), pk) for name, pk in spoken if not {*words_of(_POUR.sub("", name))} & others
        ]
        for name, pk in sorted(spoken, key=lambda each: -len(each[0])):
            by_words = r"\s+".join(re.escape(word) for word in name.split())
            found = re.search(rf"(?<!\w){by_words}s?(?!\w)", text, re.IGNORECASE)
            if found:
                return f"{text[: found.start()]} , {text[found.end() :]}", pk
        return text, None

    def _take_surface(self, pieces: list[str], line: PlannedLine) -> list[str]:
        """Say which surface and how many; returns the pieces that are left."""
        found = [(each, number) for number, piece in enumerate(pieces) for each in self._surfaces_in(piece)]
        if not found:
            return self._take_new_surface(pieces, line)
        best, number = max(found, key=lambda each: self._likeness(each[0]))
        before, after = best.before, best.after
        if count := self._count_in(before):
            line.count, before = int(count[1]), before[: count.start()]
        elif count := _COUNT_AFTER.search(after):
            line.count, after = int(count[1]), ""
        if len(best.fitting) == 1:
            line.surface = best.fitting[0]
        else:
            line.advice.append(could_be(best.words, best.fitting, self.surfaces))
        return [*pieces[:number], before, after, *pieces[number + 1 :]]

    def _take_new_surface(self, pieces: list[str], line: PlannedLine) -> list[str]:
        for number, piece in enumerate(pieces):
            if not self.is_surface(piece):
                continue
            count = re.match(r"(\d{1,4})\s*[x×]?\s+(?![x×])", piece, re.IGNORECASE)
            if count:
                line.count, piece = int(count[1]), piece[count.end() :]
            line.new_surface = piece
            line.advice.append(_not_found(piece))
            return [*pieces[:number], *pieces[number + 1 :]]
        line.advice.append(_("No surface was found."))
        return pieces

    def _surfaces_in(self, piece: str) -> Iterator[_Found]:
        """Every stretch of words that stands in the name of a surface."""
        tokens = piece.split()
        for first in range(len(tokens)):
            for last in range(first + 1, min(len(tokens), first + LONGEST_NAME) + 1):
                words = " ".join(tokens[first:last])
                fits = fitting(words, self.surfaces)
                if fits:
                    before, after = " ".join(tokens[:first]), " ".join(tokens[last:])
                    yield _Found(fits, words, before, after)

    def _count_in(self, before: str) -> re.Match[str] | None:
        """How many, at the end of what stands before a surface's words, or before another word for it."""
        count = _COUNT_BEFORE.search(before)
        return count if count and (not count[2] or self.is_surface(count[2])) else None

    def _likeness(self, found: _Found) -> tuple[bool, bool, int, int]:
        """Words that mean a surface before others, counted ones before others, and more before fewer."""
        is_counted = bool(self._count_in(found.before))
        return self.is_surface(found.words), is_counted, len(words_of(found.words)), len(found.words)

    def _colour(self, words: str, line: PlannedLine) -> PlannedColour:
        """One that is not known says its one part, so that the row is not taken for one without colours."""
        whole = fitting(words, self.colours)
        if len(whole) == 1:
            return PlannedColour(words, "", whole[0])
        part = read_part(words)
        line.advice += part.estimate_advice
        fits = fitting(part.name, self.colours)
        if len(fits) == 1:
            return PlannedColour(part.name, part.parts, fits[0])
        line.advice.append(could_be(part.name, fits, self.colours) if fits else _not_found(part.name))
        return PlannedColour(part.name, part.parts or "1", None)


def _not_found(words: str) -> str:
    return _("“{words}” was not found. Choose what it is.", words=words)


def _trimmed(text: str) -> str:
    while LOOSE_END.search(text):
        text = LOOSE_END.sub("", text)
    return " ".join(text.split())
