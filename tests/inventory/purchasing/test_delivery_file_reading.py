"""Reading a file of a delivery: amounts as people type them, and every way such a file can be wrong."""

from collections.abc import Mapping, Sequence
from typing import Any

import pytest

from inventory.materials.models import Material
from inventory.purchasing.file_import.columns import COLUMNS
from inventory.purchasing.file_import.reading import FileLine, by_name, located, open_lines, read_lines
from studio.errors import InputError
from studio.imports.checking import OpenTable
from studio.imports.kinds import TableKind
from studio.imports.reading import read_file
from studio.preferences.formatting import Formatter
from studio.preferences.models import Studio
from tests.days import TODAY
from tests.making import money, units

HEADING = "material,quantity,packs,price,best before,place,batch,kind\n"


def opened(
    text: str | bytes,
    *,
    studio: Studio | None = None,
    remembered: Mapping[str, str] | None = None,
    **how: Any,
) -> OpenTable[TableKind]:
    raw, studio = text.encode() if isinstance(text, str) else text, studio or Studio()
    sheet = read_file(raw, decimal_comma=Formatter.of(studio).decimal_comma)
    return open_lines(sheet, studio=studio, today=TODAY, remembered=remembered or {}, **how)


def read(
    text: str | bytes, *materials: Material, studio: Studio | None = None, create: bool = False, **how: Any
) -> tuple[list[FileLine], Sequence[InputError]]:
    table = opened(text, studio=studio, **how)
    return read_lines(table, materials_by_name=by_name(materials), create=create)


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
    (line,), _ = read(text, paint(), studio=studio)
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
    (line,), _ = read(text, paint(), studio=studio)
    assert (line.facts.quantity, line.facts.price) == (units(500), money("2.50"))


def test_headings_and_names_may_be_spelled_carelessly() -> None:
    text = "\n Material ,QUANTITY,price,best-before,\n  teal ,100 ml,1,,\n\n"
    lines, problems = read(text, paint())
    assert [line.facts.material.name for line in lines] == ["Teal"]
    assert not problems


def test_a_cell_may_hold_a_line_break_and_lines_are_still_counted_right() -> None:
    text = HEADING + '"Te\nal",100 ml,1,1\nTeal,oops,1,1\n'
    assert told(text, paint("Te al"), paint())[0].startswith("line 4, Pack size")


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
        "Teal,100 ml,1,2.50,31st of March\n"
        f"Teal,100 ml,1,2.50,,{'x' * 61}\n"
        "Teal,100 ml,1,2.50,,,,,more\n"
        "Teal,2 each,1,\n"
        "Canvas,100 ml,1,2.50\n"
        "Water,1 l,1,0\n"
    )
    canvas, water = paint("Canvas", measure="count", density=None), paint("Water", is_free=True)
    assert [line.split(": ")[0] for line in told(text, paint(), canvas, water)] == [
        "line 3, Material",
        "line 4, Material",
        "line 5, Pack size",
        "line 6, Packs",
        "line 7, Packs",
        "line 8, Line price",
        "line 9, Line price",
        "line 10, Line price",
        "line 11, Best before",
        "line 12, Shelf place",
        "line 13",
        "line 14, Pack size",
        "line 14, Line price",
        "line 15, Pack size",
        "line 16, Material",
    ]


def test_a_missing_density_is_asked_for() -> None:
    (problem,) = told(HEADING + "Teal,100 g,1,2\n", paint(density=None))
    assert "Enter the density" in problem


@pytest.mark.parametrize(
    ("heading", "lacks"),
    [
        ("material,quantity", {"price"}),
        ("material,price", {"pack_size"}),
        ("quantity,price", {"material"}),
        ("colour of the tide,batch", {"material", "pack_size", "price"}),
    ],
)
def test_it_asks_for_the_columns_that_a_delivery_needs(heading: str, lacks: set[str]) -> None:
    labels = {column.key: str(column.label) for column in COLUMNS}
    (problem,) = told(f"{heading}\nTeal,1 l,2\n", paint())
    assert all((labels[key] in problem) == (key in lacks) for key in ("material", "pack_size", "price"))


@pytest.mark.parametrize("text", [HEADING, "", "  \n", HEADING + 'Teal,"100 ml,1,1\n'])
def test_what_is_no_table_of_lines_is_refused(text: str) -> None:
    with pytest.raises(InputError):
        opened(text)


def test_a_column_that_is_not_known_or_comes_twice_is_left_out() -> None:
    table = opened("material,shade,size,price,material\nTeal,green,1 l,2,Kelp\n")
    assert table.headings.keys == ("material", "", "pack_size", "price", "")


@pytest.mark.parametrize(
    ("heading", "row"),
    [
        ("Description,Contents,Qty,Unit price,Total", "Teal,500 ml,2,9.50,19.00"),
        ("Item,Size (ml),Quantity,Price,Line total", "Teal,500,2,9.50,19.00"),
        ("Artikel;Inhalt;Menge;Einzelpreis;Gesamtpreis", "Teal;500 ml;2;9,50;19,00"),
        ("Bezeichnung;Gebinde;Einheit;Anzahl;Preis;Betrag", "Teal;0,5;l;2;9,50;19,00"),
        ("product\tquantity\tpacks\tprice each", "Teal\t1/2 l\t2\t9.50"),
    ],
)
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
def test_headings_of_suppliers_are_found_by_their_names(heading: str, row: str, encoding: str) -> None:
    text = f"Delivery of 12 June\n\n{heading}\n{row}\n"
    (line,), problems = read(text.encode(encoding), paint())
    assert not problems
    assert (line.number, line.facts.pack, line.facts.packs, line.facts.price) == (
        4, units(500), 2, money(19),
    )  # fmt: skip


def test_what_was_chosen_for_a_column_comes_before_what_it_is_called() -> None:
    text = "material,weight,price\nTeal,500 ml,2\n"
    (line,), _ = read(text, paint(), chosen={1: "pack_size"})
    assert line.facts.pack == units(500)
    (again,), _ = read(text, paint(), remembered={"weight": "pack_size"})
    assert again.facts.pack == units(500)


def test_a_value_for_all_lines_stands_in_for_a_column() -> None:
    lines, problems = read(
        "material,quantity,price\nKelp,250 ml,8\nTeal,1 l,2\n",
        paint(),
        create=True,
        fixed={"kind": "Paint", "place": "Loft"},
    )
    assert not problems
    assert [(line.facts.material.kind, line.facts.place) for line in lines] == [
        ("paint", "Loft"),
        ("paint", "Loft"),
    ]


def test_a_line_price_comes_before_the_price_of_a_pack() -> None:
    text = "material,size,packs,unit price,total\nTeal,1 l,2,5.00,9.00\nTeal,1 l,2,5.00,\nTeal,1 l,2,,\n"
    lines, (problem,) = read(text, paint())
    assert [line.facts.price for line in lines] == [money(9), money(10)]
    assert (problem.line, problem.field) == (4, "price")


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
    assert problems[2].startswith("line 5, Pack size")
    assert "is not one of your materials" in told(HEADING + "Kelp,340 g,1,5,,,,paint\n")[0]
