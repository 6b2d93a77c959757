"""Reading a file of a delivery: amounts as people type them, and every way such a file can be wrong."""

from collections.abc import Sequence
from typing import Any

import pytest

from inventory.materials.models import Material
from inventory.purchasing.file_import.reading import (
    MOST_BYTES,
    MOST_ROWS,
    DeliveryFileError,
    FileLine,
    by_name,
    decode,
    located,
    read_delivery_file,
)
from studio.errors import InputError
from studio.preferences.models import Studio
from tests.making import money, units

HEADING = "material,quantity,packs,price,best before,place,batch,kind\n"


def read(text: str, *materials: Material, **asked: Any) -> tuple[list[FileLine], Sequence[InputError]]:
    return read_delivery_file(text, studio=Studio(), materials_by_name=by_name(materials), **asked)


def told(text: str, *materials: Material, **asked: Any) -> list[str]:
    _, problems = read(text, *materials, **asked)
    return [located(problem) for problem in problems]


def paint(name: str = "Teal", **facts: Any) -> Material:
    return Material(name=name, **{"kind": "paint", "measure": "volume", "density": 1_120_000, **facts})


# Reading: no database


def test_quantities_are_read_as_typed_and_multiplied_by_the_packs() -> None:
    (line,), problems = read(HEADING + "Teal,8 fl oz,3,21.00,2027-03-31,Shelf 2,B77,\n", paint())
    assert not problems
    facts = line.facts
    assert facts.quantity == 3 * 227_305  # 8 imperial fluid ounces of 28.4130625 mL, to a thousandth
    assert (facts.packs, facts.price, facts.place, facts.supplier_batch) == (3, money(21), "Shelf 2", "B77")
    assert str(facts.best_before) == "2027-03-31"
    assert "imperial fluid ounces" in line.understood


def test_the_studios_own_ounce_is_meant() -> None:
    studio = Studio(fluid_system="us")
    text = HEADING + "Teal,8 fl oz,1,7.00\n"
    (line,), _ = read_delivery_file(text, studio=studio, materials_by_name=by_name([paint()]))
    assert line.facts.quantity == 236_588


def test_a_weight_becomes_a_volume_by_the_density() -> None:
    (line,), _ = read(HEADING + "Teal,1120 g,,5\n", paint())
    assert (line.facts.quantity, line.facts.packs) == (units(1000), 1)


def test_a_price_for_each_pack_is_multiplied_too() -> None:
    (line,), _ = read("material,quantity,packs,price each\nTeal,100 ml,4,2.50\n", paint())
    assert line.facts.price == money(10)


@pytest.mark.parametrize("separator", [",", ";", "\t"])
def test_columns_may_be_separated_by_comma_semicolon_or_tab(separator: str) -> None:
    text = "material,quantity,price\nTeal,100 ml,2.50\n".replace(",", separator)
    lines, problems = read(text, paint())
    assert [line.facts.quantity for line in lines] == [units(100)]
    assert not problems


def test_a_comma_decides_the_decimals_where_the_studio_writes_so() -> None:
    studio = Studio(locale="de_DE", currency="EUR")
    text = "material;quantity;price\nTeal;0,5 l;2,50\n"
    (line,), _ = read_delivery_file(text, studio=studio, materials_by_name=by_name([paint()]))
    assert (line.facts.quantity, line.facts.price) == (units(500), money("2.50"))


def test_headings_and_names_may_be_spelled_carelessly() -> None:
    text = "\n Material ,QUANTITY,price,best-before,\n  teal ,100 ml,1,,\n\n"
    lines, problems = read(text, paint())
    assert [line.facts.material.name for line in lines] == ["Teal"]
    assert not problems


def test_a_cell_may_hold_a_line_break_and_lines_are_still_counted_right() -> None:
    text = HEADING + '"Te\nal",100 ml,1,1\nTeal,oops,1,1\n'
    assert told(text, paint("Te al"), paint())[0].startswith("line 4, quantity")


def test_every_bad_line_is_told_at_once_with_its_column() -> None:
    text = HEADING + (
        "Teal,100 ml,1,2.50\n"
        "Unknown,100 ml,1,2.50\n"
        ",100 ml,1,2.50\n"
        "Teal,100 furlongs,1,2.50\n"
        "Teal,100 ml,1.5,2.50\n"
        "Teal,100 ml,0,2.50\n"
        "Teal,100 ml,1,free\n"
        "Teal,100 ml,1,-2\n"
        "Teal,100 ml,1,2.505\n"
        "Teal,100 ml,1,2.50,31/03/2027\n"
        f"Teal,100 ml,1,2.50,,{'x' * 61}\n"
        "Teal,100 ml,1,2.50,,,,,more\n"
        "Teal,2 each,1,\n"
        "Canvas,100 ml,1,2.50\n"
        "Water,1 l,1,0\n"
    )
    canvas, water = paint("Canvas", measure="count", density=None), paint("Water", is_free=True)
    assert [line.split(": ")[0] for line in told(text, paint(), canvas, water)] == [
        "line 3, material",
        "line 4, material",
        "line 5, quantity",
        "line 6, packs",
        "line 7, packs",
        "line 8, price",
        "line 9, price",
        "line 10, price",
        "line 11, best before",
        "line 12, place",
        "line 13",
        "line 14, quantity",
        "line 14, price",
        "line 15, quantity",
        "line 16, material",
    ]


def test_a_missing_density_is_asked_for() -> None:
    (problem,) = told(HEADING + "Teal,100 g,1,2\n", paint(density=None))
    assert "Enter the density" in problem


@pytest.mark.parametrize(
    ("heading", "wrong"),
    [
        ("material,quantity", "Add either a column “price”"),
        ("material,quantity,price,price each", "Add either a column “price”"),
        ("material,price", "quantity: This column is missing"),
        ("quantity,price", "material: This column is missing"),
        ("material,quantity,price,colour", "colour: Unknown column"),
        ("material,quantity,price,material", "material: This column appears twice"),
        ("", "The file is empty"),
    ],
)
def test_it_refuses_columns_that_do_not_make_a_delivery(heading: str, wrong: str) -> None:
    assert wrong in "\n".join(told(f"{heading}\nTeal,1 l,2\n" if heading else "", paint()))


def test_a_heading_alone_is_no_delivery() -> None:
    assert told(HEADING) == ["line 2: There are no lines after the column names."]


def test_an_unclosed_quotation_mark_is_told() -> None:
    assert "quotation mark" in told(HEADING + 'Teal,"100 ml,1,1\n', paint())[0]


def test_it_refuses_more_lines_than_a_delivery_can_have() -> None:
    text = HEADING + "Teal,1 ml,1,1\n" * (MOST_ROWS + 1)
    assert "Split the file" in told(text, paint())[0]


def test_it_refuses_a_file_too_large_or_not_text() -> None:
    with pytest.raises(DeliveryFileError, match="larger than 5 MB"):
        decode(b"x" * (MOST_BYTES + 1))
    with pytest.raises(DeliveryFileError, match="UTF-8"):
        decode(b"material;quantity\xff")
    assert decode("\ufeffmaterial".encode()) == "material"


def test_amounts_beyond_what_the_books_hold_are_refused() -> None:
    each = "material,quantity,packs,price each\n"
    assert "number is too large" in told(each + "Teal,9000000000 l,9,1\n", paint())[0]
    assert "number is too large" in told(each + "Teal,1 l,100000,9000000000\n", paint())[0]


def test_a_new_material_needs_its_kind_and_takes_its_measure_from_the_quantity() -> None:
    text = HEADING + "Kelp,340 g,1,5,,,,paint\nkelp,1 kg,1,9\nRope,2 m,1,1,,,,Sundry\n"
    lines, problems = read(text, create=True)
    assert not problems
    materials = [line.facts.material for line in lines]
    assert [(material.name, material.kind, material.measure) for material in materials] == [
        ("Kelp", "paint", "mass"),
        ("Kelp", "paint", "mass"),
        ("Rope", "sundry", "length"),
    ]


def test_a_new_material_is_refused_without_a_kind_as_a_surface_or_in_two_measures() -> None:
    text = HEADING + "Kelp,340 g,1,5\nTile,1 each,1,5,,,,surface\nRope,2 m,1,1,,,,sundry\nRope,2 each,1,1\n"
    problems = told(text, create=True)
    assert ["enter its kind" in problems[0], "with its size first" in problems[1]] == [True, True]
    assert problems[2].startswith("line 5, quantity")
    assert "is not one of your materials" in told(HEADING + "Kelp,340 g,1,5,,,,paint\n")[0]
