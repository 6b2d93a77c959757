"""Flow cups against published tables, refused outside their range, and read from what was noted."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.errors import InventoryError
from inventory.recipes.flow_cups import CUPS, are_comparable, read_flow_cup
from inventory.recipes.models import Mix


# A maker's range table of ISO 2431 cups (27 to 120 s is 4.6 to 52 mm²/s, and so on), to the digits printed there.
@pytest.mark.parametrize(
    ("number", "seconds", "printed"),
    [(3, 27, "4.6"), (3, 120, "52"), (4, 21, "19"), (4, 120, "163"), (6, 17, "84"), (6, 120, "823")],
)
def test_iso_cups_agree_with_a_published_range_table(number: int, seconds: int, printed: str) -> None:
    found = float(CUPS["ISO", number].formula(Fraction(seconds)))
    digits = len(printed.partition(".")[2])
    assert abs(found - float(printed)) <= 0.51 * 10**-digits


# Drain times of standard oils in ASTM D1200 cups, as a maker of viscometers publishes them.
@pytest.mark.parametrize(
    ("number", "seconds", "oil"),
    [
        (1, 70, 17),
        (2, 42, 34),
        (2, 64, 66),
        (3, 35, 66),
        (3, 58, 120),
        (4, 36, 120),
        (4, 64, 230),
        (5, 40, 460),
    ],
)
def test_astm_cups_agree_with_published_drain_times_of_standard_oils(
    number: int, seconds: int, oil: int
) -> None:
    assert float(CUPS["ASTM", number].formula(Fraction(seconds))) == pytest.approx(oil, rel=0.02)


def test_known_times_have_known_viscosities() -> None:
    """Worked out from the formulas: 4 mm, 60 s is 1.37 · 60 − 200/60."""
    assert float(CUPS["ISO", 4].viscosity(Fraction(60))) == pytest.approx(78.866667)
    assert CUPS["ISO", 6].viscosity(Fraction(100)) == Fraction("684.3")


@pytest.mark.parametrize(
    ("cup", "seconds"), [(("ISO", 4), 29), (("ISO", 4), 101), (("ASTM", 1), 54), (("ASTM", 4), 19)]
)
def test_times_outside_a_cups_range_are_refused(cup: tuple[str, int], seconds: int) -> None:
    with pytest.raises(InventoryError):
        CUPS[cup].viscosity(Fraction(seconds))


@given(st.sampled_from(sorted(CUPS)), st.integers(30, 99))
def test_longer_is_thicker(cup: tuple[str, int], seconds: int) -> None:
    assert CUPS[cup].formula(Fraction(seconds + 1)) > CUPS[cup].formula(Fraction(seconds))


@pytest.mark.parametrize(
    ("text", "cup", "seconds", "temperature"),
    [
        ("ISO 4 mm, 42 s, 23 °C", "ISO 4 mm", "42", "23"),
        ("warm honey; iso 2431 6mm cup: 55,5 s at 21,5°C", "ISO 6 mm", "55.5", "21.5"),
        ("ASTM D1200 no. 4, 36 sec", "ASTM 4", "36", None),
        ("ASTM cup 4: 36 seconds at 25 C", "ASTM 4", "36", "25"),
    ],
)
def test_a_note_with_cup_and_seconds_is_read(
    text: str, cup: str, seconds: str, temperature: str | None
) -> None:
    found = read_flow_cup(text)
    assert found is not None
    assert (found.cup.name, found.seconds) == (cup, Fraction(seconds))
    assert found.temperature == (Fraction(temperature) if temperature else None)


@pytest.mark.parametrize(
    "text",
    [
        "",
        "warm honey",
        "42 s",
        "ISO 4 mm",
        "ISO 5 mm, 40 s",
        "ISO 2431, 42 s",
        "ASTM 9, 40 s",
        "ISO 4 mm 1234 s",
    ],
)
def test_other_notes_are_left_as_they_are(text: str) -> None:
    assert read_flow_cup(text) is None


def test_batches_are_compared_at_one_temperature_only() -> None:
    def at(*notes: str) -> bool:
        return are_comparable([found for note in notes if (found := read_flow_cup(note))])

    assert at("ISO 4 mm, 42 s, 23 °C", "ISO 4 mm, 50 s, 23.5 °C")
    assert not at("ISO 4 mm, 42 s, 23 °C", "ISO 4 mm, 50 s, 20 °C")
    assert not at("ISO 4 mm, 42 s, 23 °C", "ISO 4 mm, 50 s")


def test_a_mixs_consistency_says_what_its_seconds_come_to() -> None:
    assert Mix(consistency="ISO 4 mm, 60 s, 23 °C").flow.startswith("about 79 mm²/s")
    assert "30" in Mix(consistency="ISO 4 mm, 12 s, 23 °C").flow, "refused, with the range of the cup"
    assert Mix(consistency="warm honey").flow == ""
    assert [Mix(consistency=note).viscosity for note in ("ISO 4 mm, 60 s", "ISO 4 mm, 12 s", "")] == [
        79,
        None,
        None,
    ]
