"""The units: the words a person may type for each, and its exact factor, which Pint reads from `units.txt`."""

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction
from functools import lru_cache
from pathlib import Path
from types import MappingProxyType

from studio.translation import noop, pgettext

ONE = Fraction(1)
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
        return UNITS[_BASE_CODES[self]]


class FluidSystem(StrEnum):
    """Which fluid ounce, pint, quart, gallon, cup and spoon the studio means when it does not say."""

    US = "us"
    IMPERIAL = "imperial"


@dataclass(frozen=True, slots=True)
class Unit:
    """One unit of measure, by the code that it is defined under in `units.txt`.

    Its words are English: they are what a person may type. What is shown goes through the translations, and what
    whole things are called there can be typed too.
    """

    code: str
    singular: str
    plural: str
    symbol: str
    measure: Measure

    @property
    def factor(self) -> Fraction:
        """The exact number of base units in one of it."""
        return ONE if self is self.measure.base_unit else factors()[self.code]

    @property
    def is_estimate(self) -> bool:
        """Whether it is not measured but judged by eye, and its size is the studio's own."""
        return self.code in ("drop", "splash")

    @property
    def sign(self) -> str:
        """What stands behind a number that is shown: the symbol; whole things have a word for it."""
        # Translators: behind a number, as in “2 each”.
        return pgettext("unit", "each") if self.code == "each" else self.symbol


@dataclass(frozen=True, slots=True)
class EstimatedSizes:
    """What a drop and a splash are in a studio, in thousandths of a mL. The defaults are common practice, no source."""

    drop: int = 50
    splash: int = 5000

    def factor(self, unit: Unit) -> Fraction:
        """How many base units one of a unit is, estimated or not."""
        return Fraction(getattr(self, unit.code), 1000) if unit.is_estimate else unit.factor


_BASE_CODES: Mapping[Measure, str] = {
    Measure.VOLUME: "mL",
    Measure.MASS: "g",
    Measure.COUNT: "each",
    Measure.AREA: "cm2",
    Measure.LENGTH: "cm",
}

# code, singular, plural, symbol
_NAMES: Mapping[Measure, tuple[tuple[str, str, str, str], ...]] = {
    Measure.VOLUME: (
        ("uL", noop("microlitre"), noop("microlitres"), "µL"),
        ("mL", noop("millilitre"), noop("millilitres"), "mL"),
        ("cL", noop("centilitre"), noop("centilitres"), "cL"),
        ("dL", noop("decilitre"), noop("decilitres"), "dL"),
        ("L", noop("litre"), noop("litres"), "L"),
        ("hL", noop("hectolitre"), noop("hectolitres"), "hL"),
        ("us_teaspoon", noop("US teaspoon"), noop("US teaspoons"), "US tsp"),
        ("us_tablespoon", noop("US tablespoon"), noop("US tablespoons"), "US tbsp"),
        ("us_fl_oz", noop("US fluid ounce"), noop("US fluid ounces"), "US fl oz"),
        ("us_cup", noop("US cup"), noop("US cups"), "US cup"),
        ("us_pint", noop("US pint"), noop("US pints"), "US pt"),
        ("us_quart", noop("US quart"), noop("US quarts"), "US qt"),
        ("us_gallon", noop("US gallon"), noop("US gallons"), "US gal"),
        ("imp_teaspoon", noop("imperial teaspoon"), noop("imperial teaspoons"), "imp tsp"),
        ("imp_tablespoon", noop("imperial tablespoon"), noop("imperial tablespoons"), "imp tbsp"),
        ("imp_fl_oz", noop("imperial fluid ounce"), noop("imperial fluid ounces"), "imp fl oz"),
        ("imp_pint", noop("imperial pint"), noop("imperial pints"), "imp pt"),
        ("imp_quart", noop("imperial quart"), noop("imperial quarts"), "imp qt"),
        ("imp_gallon", noop("imperial gallon"), noop("imperial gallons"), "imp gal"),
        ("metric_teaspoon", noop("metric teaspoon"), noop("metric teaspoons"), "metric tsp"),
        ("metric_tablespoon", noop("metric tablespoon"), noop("metric tablespoons"), "metric tbsp"),
        ("metric_cup", noop("metric cup"), noop("metric cups"), "metric cup"),
        ("drop", noop("drop"), noop("drops"), "drops"),
        ("splash", noop("splash"), noop("splashes"), "splashes"),
    ),
    Measure.MASS: (
        ("mg", noop("milligram"), noop("milligrams"), "mg"),
        ("g", noop("gram"), noop("grams"), "g"),
        ("kg", noop("kilogram"), noop("kilograms"), "kg"),
        ("oz", noop("ounce"), noop("ounces"), "oz"),
        ("lb", noop("pound"), noop("pounds"), "lb"),
    ),
    Measure.COUNT: (("each", "each", "each", "each"), ("dozen", noop("dozen"), "dozen", "dozen")),
    Measure.AREA: (
        ("cm2", noop("square centimetre"), noop("square centimetres"), "cm²"),
        ("m2", noop("square metre"), noop("square metres"), "m²"),
        ("in2", noop("square inch"), noop("square inches"), "in²"),
        ("ft2", noop("square foot"), noop("square feet"), "ft²"),
    ),
    Measure.LENGTH: (
        ("mm", noop("millimetre"), noop("millimetres"), "mm"),
        ("cm", noop("centimetre"), noop("centimetres"), "cm"),
        ("m", noop("metre"), noop("metres"), "m"),
        ("inch", noop("inch"), noop("inches"), "in"),
        ("foot", noop("foot"), noop("feet"), "ft"),
    ),
}


def _units() -> Iterator[Unit]:
    for measure, rows in _NAMES.items():
        for code, singular, plural, symbol in rows:
            yield Unit(code, singular, plural, symbol, measure)


UNITS: Mapping[str, Unit] = MappingProxyType({unit.code: unit for unit in _units()})

# Spoons and cups sold in Britain today are metric (common practice, no source), so a bare "tsp" is 5 mL
# there; the old imperial spoon must be asked for by name.
_BY_SYSTEM: Mapping[str, tuple[str, str]] = {
    "fl oz|fluid oz|fluid ounce|fluid ounces|floz": ("us_fl_oz", "imp_fl_oz"),
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
    "dL": "deciliter|deciliters",
    "hL": "hectoliter|hectoliters",
    "L": "liter|liters|ltr",
    "drop": "tropfen",  # these two have no symbol that every language shares
    "splash": "spritzer|schuss|schuß|schüsse",
    "mg": "milligramme|milligrammes",
    "g": "gm|gramme|grammes",
    "kg": "kgs|kilo|kilos",
    "oz": "oz wt|oz weight|ounce weight|ounces weight|wt oz|oz av|avoirdupois ounce|avoirdupois ounces",
    "lb": "lbs",
    "each": "ea|pc|pcs|piece|pieces|item|items|roll|rolls|sheet|sheets|pack|packs|box|boxes|pair|pairs|"
    "stück|stücke|stueck|stk|blatt|blätter|bogen|bögen|rolle|rollen|packung|packungen|paar|paare",
    "dozen": "doz|dozens|dutzend",
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
    for unit in UNITS.values():
        words |= {_fold(name): unit for name in (unit.singular, unit.plural, unit.symbol)}
    for code, others in _OTHER_WORDS.items():
        words |= {_fold(other): UNITS[code] for other in others.split("|")}
    for bare_words, (us_code, imperial_code) in _BY_SYSTEM.items():
        stem = us_code.removeprefix("us_")
        for bare in bare_words.split("|"):
            words[bare] = UNITS[us_code if system is FluidSystem.US else imperial_code]
            for prefix, spellings in _PREFIXES.items():
                if prefix + stem in UNITS:
                    words |= {f"{spelling} {bare}": UNITS[prefix + stem] for spelling in spellings}
    return words


_WORDS: Mapping[FluidSystem, Mapping[str, Unit]] = {system: _dictionary(system) for system in FluidSystem}


def find_unit(words: str, fluid_system: FluidSystem) -> Unit | None:
    """Return the unit that typed words name, bare fluid measures read by fluid_system; None when unknown."""
    return _WORDS[fluid_system].get(_fold(words))


@lru_cache(maxsize=1)
def factors() -> Mapping[str, Fraction]:
    """How many base units each unit is, by its code: taken from Pint when first needed, exact, and frozen.

    Pint takes most of a second to load and is slow to convert, so neither start-up nor any later reading waits for it.
    """
    from pint import UnitRegistry

    quantity = UnitRegistry(str(DEFINITIONS), non_int_type=Fraction).Quantity
    exact = {
        unit.code: Fraction(quantity(ONE, unit.code).to(unit.measure.base_unit.code).magnitude)
        for unit in UNITS.values()
    }
    return MappingProxyType(exact)
