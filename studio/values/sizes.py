"""Sizes of surfaces, height before width, and the area that paint has to cover."""

import re
from dataclasses import dataclass
from fractions import Fraction

from studio.errors import InputError
from studio.translation import _, noop
from studio.values.allocation import divide_half_up
from studio.values.numbers import format_scaled, read_number, split_number, tidy
from studio.values.units import FluidSystem, Measure, Unit, find_unit

LARGEST_SIDE = 10_000_000  # thousandths of a centimetre: 100 m
PI = Fraction(3_141_592_653_589_793_238, 10**18)

# Translators: examples of what to type; “x”, “cm” and “round” are read in English whatever the language.
_EXAMPLE = noop("20 x 30 cm, 20 x 30 x 2 cm or 30 cm round")
_BETWEEN_SIDES = re.compile(r" ?[x×*] ?| by ")
_ROUND_WORDS = re.compile(r"\b(?:round|circle|circular|diameter)\b|[ø⌀]")


@dataclass(frozen=True, slots=True)
class Size:
    """A surface in thousandths of a centimetre; a round one has its diameter as both height and width.

    Raises InputError when a side is not between zero and 100 m, or a round surface has two diameters.
    """

    height: int
    width: int
    depth: int | None = None
    round: bool = False

    def __post_init__(self) -> None:
        sides = [self.height, self.width] + ([] if self.depth is None else [self.depth])
        if not all(0 < side <= LARGEST_SIDE for side in sides):
            raise InputError(
                _("Each side must be above zero and at most 100 m, such as {example}.", example=_(_EXAMPLE))
            )
        if self.round and self.height != self.width:
            # Translators: keep “30 cm round”: it is typed so in every language.
            raise InputError(_("A round surface has one diameter. Enter for example 30 cm round."))

    def face_area(self) -> int:
        """Return the area of the face in thousandths of a cm², half up."""
        return _half_up(self._face())

    def surface_area(self, painted_sides: bool) -> int:
        """Return the area to cover in thousandths of a cm², half up: the face and, if painted, the sides.

        Raises InputError when the sides are painted and the depth is not known.
        """
        if not painted_sides:
            return self.face_area()
        if self.depth is None:
            raise InputError(_("Painted sides need a depth. Enter for example 30 x 30 x 2 cm."))
        edge = PI * self.width if self.round else Fraction(2 * (self.height + self.width))
        return _half_up(self._face() + edge * self.depth)

    def _face(self) -> Fraction:
        box = Fraction(self.height * self.width)
        return PI * box / 4 if self.round else box

    def typed(self, *, decimal_comma: bool = False) -> str:
        """Write the size as plain text that read_size reads back exactly, for filling in a form."""
        height, width, depth = (
            format_scaled(side or 0, 3, decimal_comma=decimal_comma)
            for side in (self.height, self.width, self.depth)
        )
        if self.round:
            return f"{height} cm round" + (f" x {depth} cm" if self.depth else "")
        return " x ".join([height, width, *([depth] if self.depth else [])]) + " cm"


def _half_up(square_thousandths: Fraction) -> int:
    """Turn thousandths × thousandths of a cm into thousandths of a cm², rounding once."""
    return divide_half_up(square_thousandths.numerator, square_thousandths.denominator * 1000)


def read_size(text: str, *, decimal_comma: bool = False) -> Size:
    """Read a typed size, height first: "20 x 30 cm", "8 x 10 in", "20 x 20 x 1.8 cm", "30 cm round x 1.8 cm".

    Without any unit the sides are centimetres. Raises InputError, whose text says what to type instead.
    """
    parts = _BETWEEN_SIDES.split(tidy(text, example=_EXAMPLE).casefold())
    is_round = any(_ROUND_WORDS.search(part) for part in parts)
    round_first = bool(_ROUND_WORDS.search(parts[0]))
    sides = _sides([" ".join(_ROUND_WORDS.sub(" ", part).split()) for part in parts], decimal_comma)
    if not is_round and len(sides) in (2, 3):
        return Size(sides[0], sides[1], sides[2] if len(sides) == 3 else None)
    if is_round and len(sides) == 1:
        return Size(sides[0], sides[0], round=True)
    if is_round and len(sides) == 2 and round_first:
        return Size(sides[0], sides[0], sides[1], round=True)
    if is_round:
        raise InputError(
            # Translators: keep “30 cm round” and “30 cm round x 2 cm”: they are typed so in every language.
            _("Give a round surface one diameter: 30 cm round, with sides 30 cm round x 2 cm.")
        )
    raise InputError(
        _("Give the height, the width and, if you like, the depth: {example}.", example=_(_EXAMPLE))
    )


def _sides(parts: list[str], decimal_comma: bool) -> list[int]:
    """Read each side in thousandths of a cm; one unit at the end serves all, else each needs its own."""
    if len(parts) > 3:
        raise InputError(_("Give at most height, width and depth: {example}.", example=_(_EXAMPLE)))
    pairs = [split_number(part) for part in parts]
    words = [unit for number, unit in pairs]
    if not any(words):
        words = ["cm"] * len(words)
    elif not any(words[:-1]):
        words = [words[-1]] * len(words)
    return [_side(number, word, decimal_comma) for (number, _own), word in zip(pairs, words, strict=True)]


def _side(number: str, words: str, decimal_comma: bool) -> int:
    if not number or not words:
        raise InputError(
            _(
                "Give every side a number, and one unit at the end or one for each: {example}.",
                example=_(_EXAMPLE),
            )
        )
    unit: Unit | None = find_unit(words, FluidSystem.US)
    if unit is None or unit.measure is not Measure.LENGTH:
        raise InputError(
            _(
                "“{text}” is not a length. Use mm, cm, m, in or ft: {example}.",
                text=words,
                example=_(_EXAMPLE),
            )
        )
    exact = read_number(number, decimal_comma=decimal_comma) * unit.factor * 1000
    return divide_half_up(exact.numerator, exact.denominator)
