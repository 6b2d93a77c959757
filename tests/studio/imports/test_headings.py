"""Which line names the columns, and what each heading means."""

import pytest

from studio.imports.headings import Wanted, find_headings, marks_of, plain, rows_below
from studio.imports.reading import Line, read_file

WANTED = [
    Wanted("name", ["Material", "Colour", "Farbe"]),
    Wanted("size", ["Pack size", "Size", "Größe"]),
    Wanted("price", ["Price", "Paid each", "Preis"]),
    Wanted("supplier", ["Supplier"]),
]


def lines(text: str) -> tuple[Line, ...]:
    return read_file(text.encode(), decimal_comma=False).lines


@pytest.mark.parametrize(
    ("heading", "as_compared"),
    [
        ("Paid each (£)", "paid each"),
        ("GRÖSSE", "grosse"),
        ("Größe", "grosse"),
        ("* pack_size:", "pack size"),
    ],
)
def test_headings_are_compared_without_what_people_put_around_them(heading: str, as_compared: str) -> None:
    assert plain(heading) == as_compared


def test_headings_are_found_below_a_title() -> None:
    found = find_headings(
        lines("My paints,,\nas of June,,\n\nColour,Size,Paid each (£)\nEbb,250 ml,3\n"), WANTED
    )
    assert (found.line.number, found.keys) == (4, ("name", "size", "price"))
    assert found.bracketed == {"price": "£"}


def test_a_slip_in_a_heading_is_forgiven_and_a_plural_is_not_one() -> None:
    assert find_headings(lines("Colour,Suplier\nEbb,x\n"), WANTED).keys == ("name", "supplier")
    assert find_headings(lines("Colour,Suppliers\nEbb,2\n"), WANTED).keys == ("name", "")


def test_what_a_heading_meant_the_last_time_comes_first() -> None:
    found = find_headings(lines("Colour,Size\nEbb,x\n"), WANTED, {"colour": "", "size": "name"})
    assert found.keys == ("", "name")


def test_no_column_is_meant_twice() -> None:
    assert find_headings(lines("Colour,Farbe\nEbb,x\n"), WANTED).keys == ("name", "")


def test_totals_and_repeated_headings_are_no_rows() -> None:
    table = lines("Colour,Price\nEbb,3\nColour,Price\nTide,4\nTotal,7\n")
    rows, left_out = rows_below(table, find_headings(table, WANTED))
    assert [line.cells[0] for line in rows] == ["Ebb", "Tide"]
    assert [line.number for line in left_out] == [3, 5]


@pytest.mark.parametrize(
    ("cell", "usual", "comma"),
    [
        ("12,50", False, True), ("£12,50", False, True), ("12.50", True, False), ("1,250", False, False),
        ("1.250", True, True), ("Ebb", True, True), ("0,5 l", False, True), ("0.750 l", True, False),
        ("0,750", False, True),
    ],
)  # fmt: skip
def test_the_decimal_mark_is_found_out_where_it_is_plain(cell: str, usual: bool, comma: bool) -> None:
    """Three digits behind a mark may be thousands, so they tell nothing."""
    assert marks_of([Line(1, ("x", cell))], usual=usual).decimal_comma is comma


@pytest.mark.parametrize(
    ("cells", "usual", "is_thousand"),
    [
        (("1.000 ml",), True, True), (("1.000 ml", "12,5 ml"), False, True), (("1.000 ml",), False, False),
        (("1.000 ml", "12,5 ml", "7.5 ml"), True, False), (("1.000 l", "0.750 l"), True, False),
        (("1000 ml",), True, False), (("0.500 ml", "1,5 ml"), True, False),
    ],
)  # fmt: skip
def test_a_point_before_three_digits_is_a_thousand_only_where_nothing_speaks_against_it(
    cells: tuple[str, ...], usual: bool, is_thousand: bool
) -> None:
    rows = [Line(number, (cell,)) for number, cell in enumerate(cells)]
    assert marks_of(rows, usual=usual).has_point_groups(rows) is is_thousand


DAY_OR_AMOUNT = [
    Wanted("name", ["Farbe"]),
    Wanted("left", ["Menge", "Stand"]),
    Wanted("on", ["Stand", "Tag"], is_day=True),
]


@pytest.mark.parametrize(
    ("table", "keys"),
    [
        ("Farbe,Stand\nEbb,350 ml\nTide,1.000 ml\n", ("name", "left")),
        ("Farbe,Stand\nEbb,31.03.2025\nTide,1.4.25\n", ("name", "on")),
        ("Farbe,Stand\nEbb,31. März 2025\nTide,2025-03-31\n", ("name", "on")),
        ("Farbe,Menge,Stand\nEbb,350 ml,31.03.2025\n", ("name", "left", "on")),
        ("Farbe,Stand,Tag\nEbb,350 ml,31.03.2025\n", ("name", "left", "on")),
        ("Farbe,Stand\nEbb,\n", ("name", "left")),
        ("Farbe,Stand\nEbb,350 ml\nTide,31.03.2025\nGull,20 ml\n", ("name", "left")),
    ],
)
def test_a_heading_that_may_be_a_day_or_an_amount_is_told_by_what_stands_below(
    table: str, keys: tuple[str, ...]
) -> None:
    assert find_headings(lines(table), DAY_OR_AMOUNT).keys == keys
