"""The unit table against published definitions, against Pint, and against what people type."""

import os
import subprocess
import sys
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest
from django.utils.translation import override
from pint import UnitRegistry

from studio.errors import InputError
from studio.values.quantities import input_text, read_quantity
from studio.values.units import DEFINITIONS, UNITS, FluidSystem, Measure, factors, find_unit

# NIST Special Publication 811, Appendix B.8 and B.9: factors as printed, here moved from m³, kg, m and m² to
# our base units (1 m³ = 10^6 mL, 1 kg = 10^3 g, 1 m = 10^2 cm, 1 m² = 10^4 cm²).
NIST_SP_811 = [
    ("us_teaspoon", "4.928922"),
    ("us_tablespoon", "14.78676"),
    ("us_fl_oz", "29.57353"),
    ("imp_fl_oz", "28.41306"),
    ("us_cup", "236.5882"),
    ("us_pint", "473.1765"),
    ("us_quart", "946.3529"),
    ("us_gallon", "3785.412"),
    ("imp_gallon", "4546.09"),
    ("oz", "28.34952"),
    ("lb", "453.5924"),
    ("inch", "2.54"),
    ("in2", "6.4516"),
    ("ft2", "929.0304"),
]


@pytest.mark.parametrize(("code", "printed"), NIST_SP_811)
def test_it_agrees_with_the_printed_factors_of_nist_sp_811(code: str, printed: str) -> None:
    factor = UNITS[code].factor
    exact = Decimal(factor.numerator) / Decimal(factor.denominator)
    assert exact.quantize(Decimal(printed), rounding=ROUND_HALF_UP) == Decimal(printed)


def test_it_follows_the_definitions_of_the_us_gallon() -> None:
    # NIST Handbook, Appendix C, "General Tables of Units of Measurement": gallon (US) = 231 cubic inches
    # exactly. NIST, "Equivalents of the common capacity units used in the kitchen", Table 1: the cup is 8
    # fluid ounces, the tablespoon half of one, the teaspoon a sixth.
    gallon = 231 * UNITS["inch"].factor ** 3
    assert UNITS["us_gallon"].factor == gallon
    assert [
        UNITS[code].factor * parts for code, parts in (("us_quart", 4), ("us_pint", 8), ("us_cup", 16))
    ] == [gallon] * 3
    fluid_ounce = UNITS["us_fl_oz"].factor
    assert fluid_ounce * 128 == gallon
    assert UNITS["us_tablespoon"].factor * 2 == fluid_ounce
    assert UNITS["us_teaspoon"].factor * 6 == fluid_ounce


def test_it_follows_the_definitions_of_the_imperial_gallon() -> None:
    # Weights and Measures Ordinance of Hong Kong, schedule (Ord. 54/87), pp. A392-A393, with the definitions
    # of the British Act: 1 gallon = 4.546 09 dm³, quart 1/4 gallon, pint 1/2 quart, fluid ounce 1/20 pint.
    gallon = Fraction("4546.09")
    assert UNITS["imp_gallon"].factor == gallon
    assert UNITS["imp_quart"].factor == gallon / 4
    assert UNITS["imp_pint"].factor == gallon / 8 == Fraction("568.26125")
    assert UNITS["imp_fl_oz"].factor == gallon / 160 == Fraction("28.4130625")


def test_it_follows_the_legal_pound_and_ounce() -> None:
    # Weights and Measures Act 1985 (c. 72), Schedule 1 Part V, as at 1991-02-01: POUND = 0.453 592 37
    # kilogram, ounce = 1/16 pound.
    assert UNITS["lb"].factor == Fraction("453.59237")
    assert UNITS["oz"].factor == Fraction("453.59237") / 16 == Fraction("28.349523125")


def test_it_keeps_the_old_british_spoons_apart_from_the_metric_ones() -> None:
    # GNU Units, definitions file: the British tablespoon is 15 mL, formerly 5/8 of a British fluid ounce; the
    # teaspoon is a third of it.
    fluid_ounce = UNITS["imp_fl_oz"].factor
    assert UNITS["imp_tablespoon"].factor == fluid_ounce * 5 / 8
    assert UNITS["imp_teaspoon"].factor == fluid_ounce * 5 / 24
    assert UNITS["metric_tablespoon"].factor == 15
    assert UNITS["metric_teaspoon"].factor == 5


def test_twenty_drops_make_a_millilitre() -> None:
    # Common practice, no source.
    assert UNITS["drop"].factor * 20 == 1


def registry() -> UnitRegistry[Any]:
    return UnitRegistry(str(DEFINITIONS), non_int_type=Fraction)


def test_the_definition_file_defines_exactly_the_units_that_have_names() -> None:
    defined = {str(name) for name in registry()._units if not str(name).startswith("[")}
    assert defined - {"pi"} == set(UNITS) == set(factors())


@pytest.mark.parametrize("bare", ["pint", "quart", "gallon", "cup", "fl_oz", "teaspoon", "pc", "nan"])
def test_the_definition_file_holds_no_bare_or_borrowed_names(bare: str) -> None:
    assert bare not in registry()._units


def test_the_factors_are_exact_taken_once_and_frozen() -> None:
    assert factors() is factors()
    assert all(type(factor) is Fraction and factor > 0 for factor in factors().values())
    with pytest.raises(TypeError):
        factors()["mL"] = Fraction(2)  # type: ignore[index]


PINT_WAITS = """
import sys, django
django.setup()
from django.test import Client
from django.urls import get_resolver
from studio.values.quantities import format_quantity, read_quantity
from studio.values.units import FluidSystem, Measure

get_resolver().url_patterns
assert Client(SERVER_NAME="localhost").get("/health/live").status_code == 200
read_quantity("30 mL", fluid_system=FluidSystem.IMPERIAL)
format_quantity(30_000, Measure.VOLUME)
assert "pint" not in sys.modules
assert read_quantity("2 L", fluid_system=FluidSystem.IMPERIAL).quantity.amount == 2_000_000
assert "pint" in sys.modules
"""


def test_pint_is_loaded_only_when_a_factor_is_first_needed(tmp_path: Path) -> None:
    environment = {**os.environ, "DJANGO_SETTINGS_MODULE": "studio.settings", "MENISCUS_DATA": str(tmp_path)}
    done = subprocess.run(
        [sys.executable, "-c", PINT_WAITS], env=environment, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr


def test_each_measure_has_a_base_unit_of_factor_one() -> None:
    assert {measure: measure.base_unit.symbol for measure in Measure} == {
        Measure.VOLUME: "mL",
        Measure.MASS: "g",
        Measure.COUNT: "each",
        Measure.AREA: "cm²",
        Measure.LENGTH: "cm",
    }
    assert all(measure.base_unit.factor == 1 and measure.base_unit.measure is measure for measure in Measure)


@pytest.mark.parametrize("system", FluidSystem)
def test_every_unit_is_found_by_its_own_names(system: FluidSystem) -> None:
    for unit in UNITS.values():
        assert {find_unit(name, system) for name in (unit.singular, unit.plural, unit.symbol)} == {unit}


@pytest.mark.parametrize(
    ("words", "us", "imperial"),
    [
        ("fl oz", "us_fl_oz", "imp_fl_oz"),
        ("Fl. Oz.", "us_fl_oz", "imp_fl_oz"),
        ("fluid-ounces", "us_fl_oz", "imp_fl_oz"),
        ("pints", "us_pint", "imp_pint"),
        ("quart", "us_quart", "imp_quart"),
        ("gal", "us_gallon", "imp_gallon"),
        ("cups", "us_cup", "metric_cup"),
        ("tsp", "us_teaspoon", "metric_teaspoon"),
        ("tbsp", "us_tablespoon", "metric_tablespoon"),
        ("imp tsp", "imp_teaspoon", "imp_teaspoon"),
        ("UK pint", "imp_pint", "imp_pint"),
        ("us pint", "us_pint", "us_pint"),
        ("metric cup", "metric_cup", "metric_cup"),
    ],
)
def test_a_bare_fluid_measure_follows_the_studio_and_a_named_one_does_not(
    words: str, us: str, imperial: str
) -> None:
    assert find_unit(words, FluidSystem.US) is UNITS[us]
    assert find_unit(words, FluidSystem.IMPERIAL) is UNITS[imperial]


@pytest.mark.parametrize(
    ("words", "code"),
    [
        ("ML", "mL"),
        ("ltr", "L"),
        ("\u00b5l", "uL"),
        ("μL", "uL"),
        ("cc", "mL"),
        ("sq. in.", "in2"),
        ("CM²", "cm2"),
    ],
)
def test_it_reads_capitals_dots_and_raised_figures(words: str, code: str) -> None:
    assert find_unit(words, FluidSystem.US) is UNITS[code]


@pytest.mark.parametrize("words", ["", "T", "t", "c", "mil", "parsec", "imperial cup", "gr"])
def test_it_does_not_guess_at_words_with_several_meanings(words: str) -> None:
    assert find_unit(words, FluidSystem.IMPERIAL) is None


def test_what_whole_things_are_called_in_german_is_said_and_read_back() -> None:
    with override("de"):
        written = input_text(6_000, Measure.COUNT)
        assert written == "6 Stück"
        assert read_quantity(written, fluid_system=FluidSystem.US).quantity.amount == 6_000
        with pytest.raises(InputError, match="2 Stück"):
            read_quantity("6 parsecs", fluid_system=FluidSystem.US, expected=Measure.COUNT)
