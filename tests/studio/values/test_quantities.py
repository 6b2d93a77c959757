"""Reading what people type, showing it back, and mass against volume."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from studio.errors import InputError
from studio.values.quantities import (
    LARGEST_AMOUNT,
    Quantity,
    Reading,
    format_in_unit,
    format_quantity,
    input_text,
    mass_of,
    read_quantity,
    volume_of,
)
from studio.values.units import EstimatedSizes, FluidSystem, Measure

US, IMPERIAL = FluidSystem.US, FluidSystem.IMPERIAL
NBSP = "\u00a0"
amounts = st.integers(min_value=1, max_value=LARGEST_AMOUNT)
measures = st.sampled_from(Measure)
# Text near what people type reaches further into the reader than text of any kind.
nearly_typed = st.text(alphabet="0123456789.,/ ½⅔⁄-+x×*e²'\"mlLgocmuinfz∞\u00a0\u202f٣\x00", max_size=70)


def read(text: str, system: FluidSystem = US, *, expected: Measure | None = None) -> Reading:
    return read_quantity(text, fluid_system=system, expected=expected)


@pytest.mark.parametrize(
    ("text", "measure", "amount"),
    [
        ("250 ml", Measure.VOLUME, 250_000),
        ("250 ML", Measure.VOLUME, 250_000),
        ("250ml", Measure.VOLUME, 250_000),
        (".5 l", Measure.VOLUME, 500_000),
        ("1/2 l", Measure.VOLUME, 500_000),
        ("1 ⁄ 2 l", Measure.VOLUME, 500_000),
        ("1½ l", Measure.VOLUME, 1_500_000),
        ("1 ½ l", Measure.VOLUME, 1_500_000),
        ("1,000 ml", Measure.VOLUME, 1_000_000),
        ("1,234,567.8 ml", Measure.VOLUME, 1_234_567_800),
        ("  75\u00a0cl ", Measure.VOLUME, 750_000),
        ("20 drops", Measure.VOLUME, 1_000),
        ("340 g", Measure.MASS, 340_000),
        ("1.25 kg", Measure.MASS, 1_250_000),
        ("2 each", Measure.COUNT, 2_000),
        ("12 pcs", Measure.COUNT, 12_000),
        ("6 Stück", Measure.COUNT, 6_000),
        ("2 Stk.", Measure.COUNT, 2_000),
        ("3 Blatt", Measure.COUNT, 3_000),
        ("4 Paar", Measure.COUNT, 4_000),
        ("1 Dutzend", Measure.COUNT, 12_000),
        ("2 dozen", Measure.COUNT, 24_000),
        ("1 m²", Measure.AREA, 10_000_000),
        ("18 mm", Measure.LENGTH, 1_800),
        ('8"', Measure.LENGTH, 20_320),
    ],
)
def test_it_reads_what_people_type(text: str, measure: Measure, amount: int) -> None:
    assert read(text).quantity == Quantity(measure, amount)


@pytest.mark.parametrize(
    ("text", "us", "imperial"),
    [
        # NIST SP 811 App. B: US fluid ounce 29.573 53 mL, imperial 28.413 06 mL; the others follow.
        ("2 fl oz", "2 US fluid ounces = 59.147 mL", "2 imperial fluid ounces = 56.826 mL"),
        ("1 pint", "1 US pint = 473.176 mL", "1 imperial pint = 568.261 mL"),
        ("1 gal", "1 US gallon = 3,785.412 mL", "1 imperial gallon = 4,546.09 mL"),
        ("½ cup", "½ US cup = 118.294 mL", "½ metric cup = 125 mL"),
        ("1 1/2 cup", "1 1/2 US cups = 354.882 mL", "1 1/2 metric cups = 375 mL"),
        ("5 tsp", "5 US teaspoons = 24.645 mL", "5 metric teaspoons = 25 mL"),
        ("1 US gal", "1 US gallon = 3,785.412 mL", "1 US gallon = 3,785.412 mL"),
        ("1 imp gal", "1 imperial gallon = 4,546.09 mL", "1 imperial gallon = 4,546.09 mL"),
        ("1 imperial pint", "1 imperial pint = 568.261 mL", "1 imperial pint = 568.261 mL"),
    ],
)
def test_it_reads_a_fluid_measure_by_the_studio_and_says_so_in_full(
    text: str, us: str, imperial: str
) -> None:
    assert read(text, US).echo.replace(NBSP, " ") == us
    assert read(text, IMPERIAL).echo.replace(NBSP, " ") == imperial


def test_a_base_unit_is_echoed_without_repeating_itself() -> None:
    assert read("1250 ml").echo == f"1,250{NBSP}mL"


def test_ounces_are_a_weight() -> None:
    # Weights and Measures Act 1985 Sch. 1 Part V: 1/16 of 0.453 592 37 kg, so 28.349 523 125 g.
    assert read("12 oz").quantity == Quantity(Measure.MASS, 340_194)


@pytest.mark.parametrize("text", ["12 oz", "12 Ounces", "12 oz."])
def test_it_refuses_ounces_where_a_volume_is_wanted_and_explains_fluid_ounces(text: str) -> None:
    with pytest.raises(InputError, match="Enter 12 fl oz for fluid ounces"):
        read_quantity(text, fluid_system=US, expected=Measure.VOLUME, density=1_000_000)


def test_weighed_ounces_become_a_volume_when_said_to_be_a_weight() -> None:
    reading = read_quantity("12 oz weight", fluid_system=US, expected=Measure.VOLUME, density=1_000_000)
    assert reading.quantity == Quantity(Measure.VOLUME, 340_194)


def test_a_bare_number_takes_the_expected_base_unit() -> None:
    assert read("12", expected=Measure.VOLUME).quantity == Quantity(Measure.VOLUME, 12_000)
    assert read("12", expected=Measure.COUNT).quantity == Quantity(Measure.COUNT, 12_000)


def test_a_bare_number_alone_is_refused() -> None:
    with pytest.raises(InputError, match="Add a unit: 12 ml"):
        read("12")


@pytest.mark.parametrize(
    ("text", "amount"),
    [("1,5 l", 1_500_000), ("0,25 l", 250_000), ("1.250,5 ml", 1_250_500), ("1 250,5 ml", 1_250_500)],
)
def test_a_decimal_comma_is_read_where_the_studio_uses_it(text: str, amount: int) -> None:
    assert read_quantity(text, fluid_system=US, decimal_comma=True).quantity.amount == amount


@pytest.mark.parametrize("text", ["1.250 ml", "1.5 l", "1,250,000 ml", "1.25,5 ml"])
def test_with_a_decimal_comma_a_point_open_to_two_readings_is_refused(text: str) -> None:
    with pytest.raises(InputError, match="Enter decimals as 1,5 with a comma"):
        read_quantity(text, fluid_system=US, decimal_comma=True)


@pytest.mark.parametrize("text", ["1,5 l", "0,500 l", "1,00 ml", "1.5,000 ml", "1 250 ml", "1.2.3 ml"])
def test_with_a_decimal_point_a_comma_open_to_two_readings_is_refused(text: str) -> None:
    with pytest.raises(InputError, match=r"Enter decimals as 1\.5 with a point"):
        read(text)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", "Please enter a value"),
        ("   ", "Please enter a value"),
        ("1" * 61, "Too long"),
        ("٣ ml", "digits 0 to 9"),
        ("３ ml", "digits 0 to 9"),
        ("2\u200b ml", "invisible characters"),
        ("2\x00ml", "invisible characters"),
        ("nan ml", "does not start with a number"),
        ("inf ml", "does not start with a number"),
        ("+5 ml", "does not start with a number"),
        ("-1 ml", "cannot be negative"),
        ("\u22121 ml", "cannot be negative"),
        ("1e5 ml", "not a known unit"),
        ("2**3 ml", "not a known unit"),
        ("12 parsec", "not a known unit"),
        ("1/0 l", "not a fraction"),
        ("1/2/3 l", "not a fraction"),
        ("1 3/2 l", "not a fraction"),
        ("½½ l", "not a fraction"),
        ("1.5/2 l", "not a fraction"),
        ("0 ml", "must be above zero"),
        ("0.0004 ml", "too small to measure"),
        ("9000000000001 ml", "number is too large"),
    ],
)
def test_it_refuses_what_it_cannot_read_and_says_why(text: str, message: str) -> None:
    with pytest.raises(InputError, match=message):
        read(text)


def test_zero_is_read_only_where_it_is_allowed() -> None:
    assert read_quantity("0 ml", fluid_system=US, allow_zero=True).quantity.amount == 0
    with pytest.raises(InputError, match="too small"):
        read_quantity("0.0001 ml", fluid_system=US, allow_zero=True)


def test_the_smallest_and_the_largest_quantities_are_read() -> None:
    assert read("0.0005 ml").quantity.amount == 1
    assert read("9000000000000 ml").quantity.amount == LARGEST_AMOUNT


def test_a_quantity_beyond_the_books_cannot_exist() -> None:
    with pytest.raises(InputError, match="number is too large"):
        Quantity(Measure.MASS, -LARGEST_AMOUNT - 1)


@pytest.mark.parametrize(
    ("text", "expected", "message"),
    [
        ("2 each", Measure.VOLUME, "a count, but this field needs a volume. Enter for example 250 ml"),
        ("250 ml", Measure.COUNT, "a volume, but this field needs a count. Enter for example 2 each"),
        ("30 cm", Measure.AREA, "a length, but this field needs an area. Enter for example 900 cm2"),
        ("340 g", Measure.VOLUME, "Enter the density"),
        ("250 ml", Measure.MASS, "Enter the density"),
    ],
)
def test_the_wrong_kind_is_refused_with_an_example(text: str, expected: Measure, message: str) -> None:
    with pytest.raises(InputError, match=message):
        read(text, expected=expected)


# Density of water in kg/m³, which is g/L; in µg/mL the number is a thousand times that. 20 °C: 998.206 746,
# Tanaka et al., Metrologia 38 (2001) 301-309, doi 10.1088/0026-1394/38/4/3, as run by chempy 0.10.2; IAPWS-95
# gives 998.207 150 (iapws 1.5.5). 4, 10, 15 °C: CRC Handbook of Chemistry and Physics, 53rd ed., p. F-4.
TANAKA_AT_20 = 998_207
WATER = [(4, "999.973"), (10, "999.700"), (15, "999.099"), (20, "998.207")]


def test_100_ml_of_water_at_20_degrees_weighs_99_8207_grams() -> None:
    assert mass_of(100_000, TANAKA_AT_20) == 99_821  # 99.8207 g to whole milligrams
    assert volume_of(99_821, TANAKA_AT_20) == 100_000


@pytest.mark.parametrize(("celsius", "kilograms_per_cubic_metre"), WATER)
def test_a_litre_of_water_weighs_what_the_handbook_says(celsius: int, kilograms_per_cubic_metre: str) -> None:
    grams_per_litre = Fraction(kilograms_per_cubic_metre)
    reading = read_quantity(
        "1 l", fluid_system=US, expected=Measure.MASS, density=int(grams_per_litre * 1000)
    )
    assert reading.quantity == Quantity(Measure.MASS, int(grams_per_litre * 1000))


def test_a_conversion_by_density_is_echoed_with_the_density() -> None:
    reading = read_quantity("340 g", fluid_system=US, expected=Measure.VOLUME, density=1_120_000)
    assert reading.echo.replace(NBSP, " ") == "340 grams at 1.12 g/mL = 303.571 mL"
    assert reading.unit.code == "g"


def test_mass_to_volume_rounds_once_at_the_end() -> None:
    # 0.5 oz is 14.174 761 562 5 g, 14.217 414… mL at 0.997 g/mL; from 14.175 g it would be 14.218 mL.
    reading = read_quantity("0.5 oz wt", fluid_system=US, expected=Measure.VOLUME, density=997_000)
    assert reading.quantity.amount == 14_217


@pytest.mark.parametrize("density", [0, -1])
def test_a_density_must_be_above_zero(density: int) -> None:
    with pytest.raises(InputError, match="density must be above zero"):
        mass_of(1, density)
    with pytest.raises(InputError, match="density must be above zero"):
        volume_of(1, density)
    with pytest.raises(InputError, match="density must be above zero"):
        read_quantity("1 g", fluid_system=US, expected=Measure.VOLUME, density=density)


@given(volume=st.integers(0, 10**12), density=st.integers(1_000_000, 5_000_000))
def test_a_volume_survives_the_way_to_mass_and_back(volume: int, density: int) -> None:
    # A mass is at least as finely divided as the volume when the density is 1 g/mL or more.
    assert volume_of(mass_of(volume, density), density) == volume


@pytest.mark.parametrize(
    ("amount", "measure", "shown"),
    [
        (1_250_000, Measure.VOLUME, "1,250 mL"),
        (59_147, Measure.VOLUME, "59.147 mL"),
        (2_000, Measure.COUNT, "2"),
        (1_116_000, Measure.AREA, "1,116 cm²"),
        (500, Measure.MASS, "0.5 g"),
        (-1_500, Measure.LENGTH, "−1.5 cm"),
        (0, Measure.MASS, "0 g"),
    ],
)
def test_it_shows_base_units_trimmed_and_unbroken(amount: int, measure: Measure, shown: str) -> None:
    assert format_quantity(amount, measure) == shown.replace(" ", NBSP)


def test_it_shows_a_decimal_comma_when_asked() -> None:
    assert format_quantity(1_250_500, Measure.VOLUME, decimal_comma=True) == f"1{NBSP}250,5{NBSP}mL"


def test_it_shows_an_amount_in_another_unit() -> None:
    assert format_in_unit(250_000, "us_fl_oz") == f"8.454{NBSP}US fl oz"  # 250 / 29.573 529 562 5
    assert format_in_unit(2_500_000, "L") == f"2.5{NBSP}L"
    with pytest.raises(KeyError):
        format_in_unit(1, "hogshead")


@given(amount=amounts, measure=measures, system=st.sampled_from(FluidSystem), comma=st.booleans())
def test_typed_text_is_read_back_exactly(
    amount: int, measure: Measure, system: FluidSystem, comma: bool
) -> None:
    text = input_text(amount, measure, decimal_comma=comma)
    assert read_quantity(text, fluid_system=system, decimal_comma=comma).quantity == Quantity(measure, amount)


@given(amount=amounts, measure=measures, comma=st.booleans())
def test_shown_text_is_read_back_exactly(amount: int, measure: Measure, comma: bool) -> None:
    text = format_quantity(amount, measure, decimal_comma=comma)
    read = read_quantity(text, fluid_system=US, expected=measure, decimal_comma=comma)
    assert read.quantity == Quantity(measure, amount)


@given(
    text=st.text() | nearly_typed,
    system=st.sampled_from(FluidSystem),
    expected=st.none() | measures,
    density=st.none() | st.integers(1, 20_000_000),
    comma=st.booleans(),
)
def test_any_text_is_either_read_or_refused(
    text: str, system: FluidSystem, expected: Measure | None, density: int | None, comma: bool
) -> None:
    try:
        reading = read_quantity(
            text, fluid_system=system, expected=expected, density=density, decimal_comma=comma
        )
    except InputError:
        return
    assert 0 < reading.quantity.amount <= LARGEST_AMOUNT
    assert expected in (None, reading.quantity.measure)


@pytest.mark.parametrize("text", ["9" * 10**6, "1/" * 10**6, " " * 10**6 + "1", "½" * 10**6])
def test_a_million_characters_are_refused_at_once(text: str) -> None:
    with pytest.raises(InputError):
        read(text)


@pytest.mark.parametrize(
    ("typed", "measure", "amount"),
    [
        ("pack of 5", Measure.COUNT, 5_000),
        ("a box of 100", Measure.COUNT, 100_000),
        ("2 boxes of 100", Measure.COUNT, 200_000),
        ("3 packs of 250 ml", Measure.VOLUME, 750_000),
        ("2 x 500 ml", Measure.VOLUME, 1_000_000),
        ("0.5 x 250 ml", Measure.VOLUME, 125_000),
        ("½ x 250 ml", Measure.VOLUME, 125_000),
        ("1/2 × 250 ml", Measure.VOLUME, 125_000),
        ("1 x 2 x 500 ml", Measure.VOLUME, 1_000_000),
        ("0.5 x 3 x 250 ml", Measure.VOLUME, 375_000),
        ("2×500ml", Measure.VOLUME, 1_000_000),
        ("3 * 12 each", Measure.COUNT, 36_000),
        ("2 rolls", Measure.COUNT, 2_000),
        ("1 dl", Measure.VOLUME, 100_000),
        ("2 hl", Measure.VOLUME, 200_000_000),
        ("5. l", Measure.VOLUME, 5_000_000),
        ("1 lb 4 oz", Measure.MASS, 566_990),  # 20 avoirdupois ounces of 28.349523125 g, exact by definition
        ("8 fluid oz", Measure.VOLUME, 227_305),  # imperial: 8 of 28.4130625 mL, exact by definition
    ],
)
def test_it_reads_packs_rolls_and_amounts_in_two_units(typed: str, measure: Measure, amount: int) -> None:
    reading = read_quantity(typed, fluid_system=FluidSystem.IMPERIAL)
    assert reading.quantity == Quantity(measure, amount)


@pytest.mark.parametrize(
    "typed", ["1 lb 20 oz", "1 lb 4 ml", "pack of", "0 packs of 5", "0 x 5 ml", "2 x ml"]
)
def test_it_refuses_two_units_that_do_not_go_together(typed: str) -> None:
    with pytest.raises(InputError):
        read_quantity(typed, fluid_system=FluidSystem.IMPERIAL)


@pytest.mark.parametrize(
    ("typed", "thousandths"),
    [
        ("a splash", 5_000),
        ("2 splashes", 10_000),
        ("1/2 splash", 2_500),
        ("1 drop", 50),
        ("3 drops", 150),
        ("A drop", 50),
        ("3 Tropfen", 150),
        ("ein Spritzer", 5_000),
        ("a splash 3 drops", 5_150),
    ],
)
def test_drops_and_splashes_are_read_as_estimates(typed: str, thousandths: int) -> None:
    # The European Pharmacopoeia's standard dropper gives 20 drops of water of 1 g at 20 °C (2.1.1, from memory).
    reading = read_quantity(typed, fluid_system=FluidSystem.IMPERIAL, expected=Measure.VOLUME)
    assert (reading.quantity.amount, reading.is_estimate) == (thousandths, True)


def test_a_studio_sets_the_size_of_its_drops_and_splashes() -> None:
    sizes = EstimatedSizes(drop=40, splash=7_500)
    for typed, thousandths in (("5 drops", 200), ("2 splashes", 15_000)):
        reading = read_quantity(typed, fluid_system=FluidSystem.US, sizes=sizes)
        assert reading.quantity == Quantity(Measure.VOLUME, thousandths)


def test_an_estimate_is_weighed_by_density_like_anything_else() -> None:
    reading = read_quantity("a splash", fluid_system=FluidSystem.US, expected=Measure.MASS, density=1_200_000)
    assert (reading.quantity.amount, reading.is_estimate) == (6_000, True)


@pytest.mark.parametrize("typed", ["250 ml", "1 cup", "a cup", "a box of 100"])
def test_what_is_measured_is_no_estimate(typed: str) -> None:
    assert not read_quantity(typed, fluid_system=FluidSystem.US).is_estimate


@pytest.mark.parametrize("typed", ["splash", "a", "a few drops", "a 5 ml", "a lot"])
def test_a_word_without_a_number_or_a_unit_is_refused(typed: str) -> None:
    with pytest.raises(InputError):
        read_quantity(typed, fluid_system=FluidSystem.US, expected=Measure.VOLUME)
