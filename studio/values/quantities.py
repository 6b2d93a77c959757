"""Quantities as whole thousandths of a base unit: read as typed, shown back, turned from mass to volume."""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

from studio.errors import InputError
from studio.translation import _, noop
from studio.values.allocation import divide_half_up
from studio.values.numbers import MINUS, NO_BREAK_SPACE, format_scaled, read_number, split_number, tidy
from studio.values.units import UNITS, EstimatedSizes, FluidSystem, Measure, Unit, find_unit

LARGEST_AMOUNT = 9 * 10**15
DENSITY_SCALE = 10**6
USUAL_SIZES = EstimatedSizes()

# What a person may type. Signs of units are the same in every language; whole things have a word for it.
_EXAMPLES: Mapping[Measure, str] = {
    Measure.VOLUME: "250 ml",
    Measure.MASS: "340 g",
    Measure.COUNT: "2 {each}",
    Measure.AREA: "900 cm2",
    Measure.LENGTH: "30 cm",
}
_NAMED: Mapping[Measure, str] = {
    # Translators: stands, like “a mass” and the others, in “{text}” is {found}, and {wanted} is wanted here.
    Measure.VOLUME: noop("a volume"),
    Measure.MASS: noop("a mass"),
    Measure.COUNT: noop("a count"),
    Measure.AREA: noop("an area"),
    Measure.LENGTH: noop("a length"),
}
_LIQUID_OUNCE_TRAP = frozenset({"oz", "ounce", "ounces"})


@dataclass(frozen=True, slots=True)
class Quantity:
    """Whole thousandths of the measure's base unit; raises InputError beyond 9·10^15 either way."""

    measure: Measure
    amount: int

    def __post_init__(self) -> None:
        if abs(self.amount) > LARGEST_AMOUNT:
            raise InputError(_("That number is too large. Check the number and its unit."))


@dataclass(frozen=True, slots=True)
class Reading:
    """A quantity as read from typed text, with a sentence that says in full how it was understood.

    Drops and splashes are estimates.
    """

    quantity: Quantity
    echo: str
    unit: Unit
    is_estimate: bool = False


def volume_of(mass: int, density: int) -> int:
    """Return the volume (1/1000 mL) of a mass (1/1000 g) at a density in µg/mL, rounded half up."""
    return divide_half_up(mass * DENSITY_SCALE, _checked_density(density))


def mass_of(volume: int, density: int) -> int:
    """Return the mass (1/1000 g) of a volume (1/1000 mL) at a density in µg/mL, rounded half up."""
    return divide_half_up(volume * _checked_density(density), DENSITY_SCALE)


def in_measure(quantity: Quantity, measure: Measure, *, density: int | None = None) -> Quantity:
    """The same quantity in a measure: a mass as a volume or the reverse, at density (µg/mL). Raises InputError."""
    if quantity.measure is measure:
        return quantity
    text = format_quantity(quantity.amount, quantity.measure)
    return _rounded(_converted(Fraction(quantity.amount), quantity.measure, measure, density, text), measure)


def _checked_density(density: int) -> int:
    if density <= 0:
        raise InputError(_("A density must be above zero."))
    return density


def read_quantity(
    text: str,
    *,
    fluid_system: FluidSystem,
    expected: Measure | None = None,
    density: int | None = None,
    decimal_comma: bool = False,
    lone_dot_groups: bool = False,
    allow_zero: bool = False,
    sizes: EstimatedSizes = USUAL_SIZES,
    echo_comma: bool | None = None,
) -> Reading:
    """Read a typed quantity such as "250 ml", "1 1/2 cups" or "a splash"; one half-up rounding, to thousandths.

    A bare number takes the base unit of expected. A mass where a volume is expected, or the reverse, is
    converted at density (µg/mL). With a decimal comma, 1.000 is refused unless `lone_dot_groups` says that it is a
    thousand. `echo_comma` is how the echo writes numbers where that is not how they were typed. Raises InputError,
    whose text says what to type instead.
    """
    example = _example(expected or Measure.VOLUME)
    tidied = tidy(text, example=example)
    wording = {"text": tidied, "example": example}
    if tidied[0] in "-\u2212\u2013":
        raise InputError(_("A quantity cannot be negative. Enter for example {example}.", **wording))
    number, words, times = _without_packs(_article_as_one(tidied, fluid_system), decimal_comma=decimal_comma)
    if not number:
        raise InputError(_("“{text}” does not start with a number. Enter for example {example}.", **wording))
    value = read_number(number, decimal_comma=decimal_comma, lone_dot_groups=lone_dot_groups) * times
    unit, smaller, count = _parts_of(words, fluid_system, decimal_comma=decimal_comma)
    if unit is None:
        unit = _unit_of(number, words, fluid_system, expected)
    measure = expected or unit.measure
    rest = count * sizes.factor(smaller) if smaller else Fraction(0)
    exact = _converted((value * sizes.factor(unit) + rest) * 1000, unit.measure, measure, density, tidied)
    quantity = _rounded(exact, measure)
    if quantity.amount == 0 and not (allow_zero and value == 0):
        if value == 0:
            raise InputError(_("“{text}” must be above zero. Enter for example {example}.", **wording))
        raise InputError(_("“{text}” is too small to measure. Enter for example {example}.", **wording))
    is_estimate = unit.is_estimate or (smaller is not None and smaller.is_estimate)
    comma = decimal_comma if echo_comma is None else echo_comma
    if comma != decimal_comma:
        number = number.translate(_OTHER_MARKS)
    if times != 1 or rest:
        echo = format_quantity(quantity.amount, measure, decimal_comma=comma)
    else:
        echo = _echo(number, value, unit, quantity, density, comma)
    return Reading(quantity, echo, unit, is_estimate)


_OTHER_MARKS = str.maketrans(".,", ",.")
_PACKS = re.compile(
    r"(?:([0-9]{1,6}) )?(?:a )?(?:packs?|box(?:es)?|sets?|bags?|packets?) of (.+)", re.IGNORECASE
)
_TIMES = re.compile(r"[x×*] ?([0-9½¼¾⅓⅔].*)", re.IGNORECASE)
_ONE = re.compile(r"^(?:an?|one|eine?|einen) (?=[^\W\d])", re.IGNORECASE)
_SECOND_PART = re.compile(r"([^0-9]+?) ?([0-9][0-9.,]*) ?([^0-9]+)")


def _article_as_one(text: str, fluid_system: FluidSystem) -> str:
    """A text whose first word is an article before a unit, "a splash", with a number instead."""
    article = _ONE.match(text)
    rest = text[article.end() :] if article else ""
    is_unit = rest and (find_unit(rest, fluid_system) or find_unit(rest.split()[0], fluid_system))
    return f"1 {rest}" if is_unit else text


def _without_packs(text: str, *, decimal_comma: bool) -> tuple[str, str, Fraction]:
    """The number, the unit and how many of that: "1/2 x 2 x 500 ml"; "2 boxes of 100" is twice 100, and a count."""
    packs = _PACKS.fullmatch(text)
    number, words = split_number(packs[2] if packs else text)
    if packs:
        return number, words or "each", Fraction(packs[1] or 1)
    times = Fraction(1)
    while number and (more := _TIMES.fullmatch(words)):
        times *= read_number(number, decimal_comma=decimal_comma)
        number, words = split_number(more[1])
    return number, words, times


def _parts_of(
    words: str, fluid_system: FluidSystem, *, decimal_comma: bool
) -> tuple[Unit | None, Unit | None, Fraction]:
    """The first unit of two, the second, and how many of that: of "lb 4 oz", pounds, and four ounces."""
    parts = _SECOND_PART.fullmatch(words)
    larger, smaller = (find_unit(parts[index], fluid_system) if parts else None for index in (1, 3))
    if parts is None or larger is None or smaller is None or larger.measure is not smaller.measure:
        return None, None, Fraction(0)
    count = read_number(parts[2], decimal_comma=decimal_comma)
    return (larger, smaller, count) if count * smaller.factor < larger.factor else (None, None, Fraction(0))


def _unit_of(number: str, words: str, fluid_system: FluidSystem, expected: Measure | None) -> Unit:
    if not words:
        if expected is None:
            raise InputError(
                # Translators: “each” as it stands behind a number, in German “Stück”; the other two stay.
                _("Add a unit: {number} ml, {number} g or {number} each.", number=number)
            )
        return expected.base_unit
    unit = find_unit(words, fluid_system)
    if unit is None:
        example = _example(expected or Measure.VOLUME)
        raise InputError(
            _("“{unit}” is not a known unit. Enter for example {example}.", unit=words, example=example)
        )
    if expected is Measure.VOLUME and words.casefold().rstrip(".") in _LIQUID_OUNCE_TRAP:
        raise InputError(
            _(
                # Translators: keep “fl oz” and “oz weight”: units are typed in English whatever the language.
                "An ounce is a weight, but this field needs a volume. Enter {number} fl oz for fluid "
                "ounces, or {number} oz weight if it was weighed.",
                number=number,
            )
        )
    return unit


def _converted(exact: Fraction, own: Measure, measure: Measure, density: int | None, text: str) -> Fraction:
    """Carry an exact amount into the wanted measure, by density between a mass and a volume."""
    if own is measure:
        return exact
    if density is None or {own, measure} != {Measure.MASS, Measure.VOLUME}:
        raise InputError(_other_measure(text, own, measure))
    grams_per_millilitre = Fraction(_checked_density(density), DENSITY_SCALE)
    return exact * grams_per_millilitre if measure is Measure.MASS else exact / grams_per_millilitre


def _rounded(exact: Fraction, measure: Measure) -> Quantity:
    return Quantity(measure, divide_half_up(exact.numerator, exact.denominator))


def _example(measure: Measure) -> str:
    return _EXAMPLES[measure].format(each=UNITS["each"].sign)


def _other_measure(text: str, own: Measure, wanted: Measure) -> str:
    wording = {
        "text": text,
        "found": _(_NAMED[own]),
        "wanted": _(_NAMED[wanted]),
        "example": _example(wanted),
    }
    if {own, wanted} == {Measure.MASS, Measure.VOLUME}:
        return _(
            "“{text}” is {found}, but this field needs {wanted}. Enter the density (g/mL) first, or "
            "enter for example {example}.",
            **wording,
        )
    return _("“{text}” is {found}, but this field needs {wanted}. Enter for example {example}.", **wording)


def _echo(
    number: str, value: Fraction, unit: Unit, quantity: Quantity, density: int | None, decimal_comma: bool
) -> str:
    result = format_quantity(quantity.amount, quantity.measure, decimal_comma=decimal_comma)
    if unit is quantity.measure.base_unit:
        return result
    typed = f"{number} {_(unit.singular if 0 < value <= 1 else unit.plural)}"
    if unit.measure is quantity.measure or density is None:
        return f"{typed} = {result}"
    at_density = f"{format_scaled(density, 6, decimal_comma=decimal_comma)}{NO_BREAK_SPACE}g/mL"
    return _("{amount} at {density} = {result}", amount=typed, density=at_density, result=result)


def format_quantity(amount: int, measure: Measure, *, decimal_comma: bool = False) -> str:
    """Show thousandths of a base unit for people, with a no-break space: "1,250 mL". A count stands alone: "2"."""
    number = format_scaled(amount, 3, decimal_comma=decimal_comma, grouping=True).replace("-", MINUS)
    return number if measure is Measure.COUNT else f"{number}{NO_BREAK_SPACE}{measure.base_unit.sign}"


def format_in_unit(amount: int, unit_code: str, *, decimal_comma: bool = False) -> str:
    """Show thousandths of a base unit in another unit of the same measure, to three decimals half up.

    Raises KeyError when the unit is not in the table.
    """
    unit = UNITS[unit_code]
    thousandths = divide_half_up(amount * unit.factor.denominator, unit.factor.numerator)
    number = format_scaled(thousandths, 3, decimal_comma=decimal_comma, grouping=True)
    return f"{number.replace('-', MINUS)}{NO_BREAK_SPACE}{unit.sign}"


def input_text(amount: int, measure: Measure, *, decimal_comma: bool = False) -> str:
    """Write thousandths of a base unit as plain text that read_quantity reads back exactly, for a form."""
    sign = measure.base_unit.sign.replace("²", "2")
    return f"{format_scaled(amount, 3, decimal_comma=decimal_comma)} {sign}"
