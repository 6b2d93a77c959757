"""Quantities as whole thousandths of a base unit: read as typed, shown back, turned from mass to volume."""

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

from studio.errors import QuantityError
from studio.numerals import NO_BREAK_SPACE, read_number, split_number, tidy, write_scaled
from studio.sharing import divide_half_up
from studio.sizes import Size, read_size
from studio.units import FACTORS, FluidSystem, Measure, Unit, find_unit

__all__ = [
    "FluidSystem",
    "Measure",
    "Quantity",
    "Reading",
    "Size",
    "mass_of",
    "read_quantity",
    "read_size",
    "show",
    "show_in",
    "typed",
    "volume_of",
]

LARGEST_AMOUNT = 9 * 10**15
DENSITY_SCALE = 10**6

EXAMPLES: Mapping[Measure, str] = {
    Measure.VOLUME: "250 ml",
    Measure.MASS: "340 g",
    Measure.COUNT: "2 each",
    Measure.AREA: "900 cm2",
    Measure.LENGTH: "30 cm",
}
_LIQUID_OUNCE_TRAP = frozenset({"oz", "ounce", "ounces"})


@dataclass(frozen=True, slots=True)
class Quantity:
    """Whole thousandths of the measure's base unit; raises QuantityError beyond 9·10^15 either way."""

    measure: Measure
    amount: int

    def __post_init__(self) -> None:
        if abs(self.amount) > LARGEST_AMOUNT:
            raise QuantityError("That is more than the books can hold. Check the number and its unit.")


@dataclass(frozen=True, slots=True)
class Reading:
    """A quantity as read from typed text, with a sentence that says in full how it was understood."""

    quantity: Quantity
    echo: str
    unit: Unit


def volume_of(mass: int, density: int) -> int:
    """Return the volume (1/1000 mL) of a mass (1/1000 g) at a density in µg/mL, rounded half up."""
    return divide_half_up(mass * DENSITY_SCALE, _checked_density(density))


def mass_of(volume: int, density: int) -> int:
    """Return the mass (1/1000 g) of a volume (1/1000 mL) at a density in µg/mL, rounded half up."""
    return divide_half_up(volume * _checked_density(density), DENSITY_SCALE)


def _checked_density(density: int) -> int:
    if density <= 0:
        raise QuantityError("A density must be above zero, such as 1.05 g/mL.")
    return density


def read_quantity(
    text: str,
    *,
    fluid_system: FluidSystem,
    expected: Measure | None = None,
    density: int | None = None,
    decimal_comma: bool = False,
    allow_zero: bool = False,
) -> Reading:
    """Read a typed quantity such as "250 ml", "1 1/2 cups" or "12 oz"; one half-up rounding, to thousandths.

    A bare number takes the base unit of expected. A mass where a volume is expected, or the reverse, is
    converted at density (µg/mL). Raises QuantityError, whose text says what to type instead.
    """
    example = EXAMPLES[expected or Measure.VOLUME]
    tidied = tidy(text, error=QuantityError, example=example)
    if tidied[0] in "-\u2212\u2013":
        raise QuantityError(f"A quantity cannot be negative. Write for example {example}.")
    number, words = split_number(tidied)
    if not number:
        raise QuantityError(f"“{tidied}” does not begin with a number. Write for example {example}.")
    value = read_number(number, decimal_comma=decimal_comma, error=QuantityError)
    unit = _unit_of(number, words, fluid_system, expected)
    measure = expected or unit.measure
    exact = _converted(value * unit.factor * 1000, unit, measure, density, tidied)
    quantity = Quantity(measure, divide_half_up(exact.numerator, exact.denominator))
    if quantity.amount == 0 and not (allow_zero and value == 0):
        problem = "must be above zero" if value == 0 else "is too small to measure"
        raise QuantityError(f"“{tidied}” {problem}. Write for example {example}.")
    return Reading(quantity, _echo(number, value, unit, quantity, density, decimal_comma), unit)


def _unit_of(number: str, words: str, fluid_system: FluidSystem, expected: Measure | None) -> Unit:
    if not words:
        if expected is None:
            raise QuantityError(f"Say the unit as well: {number} ml, {number} g or {number} each.")
        return expected.base_unit
    unit = find_unit(words, fluid_system)
    if unit is None:
        example = EXAMPLES[expected or Measure.VOLUME]
        raise QuantityError(f"“{words}” is not a unit known here. Write for example {example}.")
    if expected is Measure.VOLUME and words.casefold().rstrip(".") in _LIQUID_OUNCE_TRAP:
        raise QuantityError(
            f"An ounce is a weight, and a volume is wanted here. Write {number} fl oz for fluid ounces, "
            f"or {number} oz weight if it was weighed."
        )
    return unit


def _converted(exact: Fraction, unit: Unit, measure: Measure, density: int | None, text: str) -> Fraction:
    """Carry an exact amount into the wanted measure, by density between a mass and a volume."""
    if unit.measure is measure:
        return exact
    problem = f"“{text}” is {_a(unit.measure)}, and {_a(measure)} is wanted here."
    if {unit.measure, measure} != {Measure.MASS, Measure.VOLUME}:
        raise QuantityError(f"{problem} Write for example {EXAMPLES[measure]}.")
    if density is None:
        raise QuantityError(
            f"{problem} Enter the density (g/mL) first, or write for example {EXAMPLES[measure]}."
        )
    grams_per_millilitre = Fraction(_checked_density(density), DENSITY_SCALE)
    return exact * grams_per_millilitre if measure is Measure.MASS else exact / grams_per_millilitre


def _a(measure: Measure) -> str:
    return f"an {measure}" if measure is Measure.AREA else f"a {measure}"


def _echo(
    number: str, value: Fraction, unit: Unit, quantity: Quantity, density: int | None, decimal_comma: bool
) -> str:
    result = show(quantity.amount, quantity.measure, decimal_comma=decimal_comma)
    if unit is quantity.measure.base_unit:
        return result
    name = unit.singular if 0 < value <= 1 else unit.plural
    at_density = ""
    if unit.measure is not quantity.measure and density is not None:
        at_density = f" at {write_scaled(density, 6, decimal_comma=decimal_comma)}{NO_BREAK_SPACE}g/mL"
    return f"{number} {name}{at_density} = {result}"


def show(amount: int, measure: Measure, *, decimal_comma: bool = False, grouping: bool = True) -> str:
    """Show thousandths of a base unit for people, with a no-break space: "1,250 mL", "2 each"."""
    number = write_scaled(amount, 3, decimal_comma=decimal_comma, grouping=grouping)
    return f"{number}{NO_BREAK_SPACE}{measure.base_unit.symbol}"


def show_in(amount: int, unit_code: str, *, decimal_comma: bool = False, grouping: bool = True) -> str:
    """Show thousandths of a base unit in another unit of the same measure, to three decimals half up.

    Raises QuantityError when the unit is not in the table.
    """
    unit = FACTORS.get(unit_code)
    if unit is None:
        raise QuantityError(f"“{unit_code}” is not a unit known here. Choose one of {', '.join(FACTORS)}.")
    thousandths = divide_half_up(amount * unit.factor.denominator, unit.factor.numerator)
    number = write_scaled(thousandths, 3, decimal_comma=decimal_comma, grouping=grouping)
    return f"{number}{NO_BREAK_SPACE}{unit.symbol}"


def typed(amount: int, measure: Measure, *, decimal_comma: bool = False) -> str:
    """Write thousandths of a base unit as plain text that read_quantity reads back exactly, for a form."""
    symbol = measure.base_unit.symbol.replace("²", "2")
    return f"{write_scaled(amount, 3, decimal_comma=decimal_comma)} {symbol}"
