"""What every unit is: one exact factor per unit, and the words a person may type for it."""

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction
from functools import lru_cache
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from pint import UnitRegistry

DEFINITIONS = Path(__file__).with_name("units.txt")


class Measure(StrEnum):
    """How a material is counted; amounts are whole thousandths of the measure's base unit."""

    VOLUME = "volume"
    MASS = "mass"
    COUNT = "count"
    AREA = "area"
    LENGTH = "length"

    @property
    def base_unit(self) -> "Unit":
        """The unit whose thousandths are stored: mL, g, each, cm² or cm."""
        return FACTORS[_BASE_CODES[self]]


class FluidSystem(StrEnum):
    """Which fluid ounce, pint, quart, gallon, cup and spoon the studio means when it does not say."""

    US = "us"
    IMPERIAL = "imperial"


@dataclass(frozen=True, slots=True)
class Unit:
    """One unit of measure; factor is the exact number of base units in one of it."""

    code: str
    singular: str
    plural: str
    symbol: str
    measure: Measure
    factor: Fraction


_BASE_CODES: Mapping[Measure, str] = {
    Measure.VOLUME: "mL",
    Measure.MASS: "g",
    Measure.COUNT: "each",
    Measure.AREA: "cm2",
    Measure.LENGTH: "cm",
}

# code, singular, plural, symbol, factor to the base unit
_ROWS: Mapping[Measure, tuple[tuple[str, str, str, str, str], ...]] = {
    Measure.VOLUME: (
        ("uL", "microlitre", "microlitres", "µL", "0.001"),
        ("mL", "millilitre", "millilitres", "mL", "1"),
        ("cL", "centilitre", "centilitres", "cL", "10"),
        ("L", "litre", "litres", "L", "1000"),
        ("us_teaspoon", "US teaspoon", "US teaspoons", "US tsp", "4.92892159375"),
        ("us_tablespoon", "US tablespoon", "US tablespoons", "US tbsp", "14.78676478125"),
        ("us_fl_oz", "US fluid ounce", "US fluid ounces", "US fl oz", "29.5735295625"),
        ("us_cup", "US cup", "US cups", "US cup", "236.5882365"),
        ("us_pint", "US pint", "US pints", "US pt", "473.176473"),
        ("us_quart", "US quart", "US quarts", "US qt", "946.352946"),
        ("us_gallon", "US gallon", "US gallons", "US gal", "3785.411784"),
        ("imp_teaspoon", "imperial teaspoon", "imperial teaspoons", "imp tsp", "454609/76800"),
        ("imp_tablespoon", "imperial tablespoon", "imperial tablespoons", "imp tbsp", "17.7581640625"),
        ("imp_fl_oz", "imperial fluid ounce", "imperial fluid ounces", "imp fl oz", "28.4130625"),
        ("imp_pint", "imperial pint", "imperial pints", "imp pt", "568.26125"),
        ("imp_quart", "imperial quart", "imperial quarts", "imp qt", "1136.5225"),
        ("imp_gallon", "imperial gallon", "imperial gallons", "imp gal", "4546.09"),
        ("metric_teaspoon", "metric teaspoon", "metric teaspoons", "metric tsp", "5"),
        ("metric_tablespoon", "metric tablespoon", "metric tablespoons", "metric tbsp", "15"),
        ("metric_cup", "metric cup", "metric cups", "metric cup", "250"),
        ("drop", "drop", "drops", "drops", "1/20"),
    ),
    Measure.MASS: (
        ("mg", "milligram", "milligrams", "mg", "0.001"),
        ("g", "gram", "grams", "g", "1"),
        ("kg", "kilogram", "kilograms", "kg", "1000"),
        ("oz", "ounce", "ounces", "oz", "28.349523125"),
        ("lb", "pound", "pounds", "lb", "453.59237"),
    ),
    Measure.COUNT: (("each", "each", "each", "each", "1"), ("dozen", "dozen", "dozen", "dozen", "12")),
    Measure.AREA: (
        ("cm2", "square centimetre", "square centimetres", "cm²", "1"),
        ("m2", "square metre", "square metres", "m²", "10000"),
        ("in2", "square inch", "square inches", "in²", "6.4516"),
        ("ft2", "square foot", "square feet", "ft²", "929.0304"),
    ),
    Measure.LENGTH: (
        ("mm", "millimetre", "millimetres", "mm", "0.1"),
        ("cm", "centimetre", "centimetres", "cm", "1"),
        ("m", "metre", "metres", "m", "100"),
        ("inch", "inch", "inches", "in", "2.54"),
        ("foot", "foot", "feet", "ft", "30.48"),
    ),
}


def _rows() -> Iterator[Unit]:
    for measure, rows in _ROWS.items():
        for code, singular, plural, symbol, factor in rows:
            yield Unit(code, singular, plural, symbol, measure, Fraction(factor))


FACTORS: Mapping[str, Unit] = MappingProxyType({unit.code: unit for unit in _rows()})

# Spoons and cups sold in Britain today are metric (common practice, no source), so a bare "tsp" is 5 mL
# there; the old imperial spoon must be asked for by name.
_BY_SYSTEM: Mapping[str, tuple[str, str]] = {
    "fl oz|fluid ounce|fluid ounces|floz": ("us_fl_oz", "imp_fl_oz"),
    "pint|pints|pt|pts": ("us_pint", "imp_pint"),
    "quart|quarts|qt|qts": ("us_quart", "imp_quart"),
    "gallon|gallons|gal|gals": ("us_gallon", "imp_gallon"),
    "cup|cups": ("us_cup", "metric_cup"),
    "tsp|tsps|teaspoon|teaspoons": ("us_teaspoon", "metric_teaspoon"),
    "tbsp|tbsps|tablespoon|tablespoons": ("us_tablespoon", "metric_tablespoon"),
}

_OTHER_WORDS: Mapping[str, str] = {
    "uL": "ul|microliter|microliters",
    "mL": "mls|milliliter|milliliters|cc|cm3|cubic cm|cubic centimetre|cubic centimetres",
    "cL": "centiliter|centiliters",
    "L": "liter|liters|ltr",
    "mg": "milligramme|milligrammes",
    "g": "gm|gramme|grammes",
    "kg": "kgs|kilo|kilos",
    "oz": "oz wt|oz weight|ounce weight|ounces weight|wt oz|oz av|avoirdupois ounce|avoirdupois ounces",
    "lb": "lbs",
    "each": "ea|pc|pcs|piece|pieces|item|items",
    "dozen": "doz|dozens",
    "cm2": "sq cm|square cm",
    "m2": "sq m|square m|square meter|square meters",
    "in2": "sq in|square in|sq inch|sq inches",
    "ft2": "sq ft|square ft",
    "mm": "millimeter|millimeters",
    "cm": "centimeter|centimeters",
    "m": "meter|meters",
    "inch": '"|″|”',
    "foot": "'|′|’",
}
_PREFIXES: Mapping[str, tuple[str, ...]] = {
    "us_": ("us",),
    "imp_": ("imp", "imperial", "uk"),
    "metric_": ("metric",),
}


def _fold(words: str) -> str:
    """Bring a typed unit to one spelling: no capitals, dots or hyphens, raised figures lowered."""
    lowered = words.replace("²", "2").replace("³", "3").casefold()
    return " ".join(re.sub(r"[.\-_]", " ", lowered).split())


def _dictionary(system: FluidSystem) -> dict[str, Unit]:
    words: dict[str, Unit] = {}
    for unit in FACTORS.values():
        words |= {_fold(name): unit for name in (unit.singular, unit.plural, unit.symbol)}
    for code, others in _OTHER_WORDS.items():
        words |= {_fold(other): FACTORS[code] for other in others.split("|")}
    for bare_words, (us_code, imperial_code) in _BY_SYSTEM.items():
        stem = us_code.removeprefix("us_")
        for bare in bare_words.split("|"):
            words[bare] = FACTORS[us_code if system is FluidSystem.US else imperial_code]
            for prefix, spellings in _PREFIXES.items():
                if prefix + stem in FACTORS:
                    words |= {f"{spelling} {bare}": FACTORS[prefix + stem] for spelling in spellings}
    return words


_WORDS: Mapping[FluidSystem, Mapping[str, Unit]] = {system: _dictionary(system) for system in FluidSystem}


def find_unit(words: str, fluid_system: FluidSystem) -> Unit | None:
    """Return the unit that typed words name, bare fluid measures read by fluid_system; None when unknown."""
    return _WORDS[fluid_system].get(_fold(words))


@lru_cache(maxsize=1)
def registry() -> "UnitRegistry[Any]":
    """Build the one Pint registry from our own definition file, with exact fractions throughout."""
    from pint import UnitRegistry

    return UnitRegistry(str(DEFINITIONS), non_int_type=Fraction)
