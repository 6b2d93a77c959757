"""Tables are read from whatever a spreadsheet saves, and what could do harm is refused."""

import codecs
import contextlib
import csv
import io
import re
import zipfile
from datetime import date
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from studio.errors import InputError
from studio.imports.reading import LONGEST_CELL, MOST_BYTES, MOST_COLUMNS, MOST_LINES, read_file
from tests.studio.imports.making import book, with_part


def cells(raw: str | bytes, *, decimal_comma: bool = False) -> list[tuple[str, ...]]:
    sheet = read_file(raw if isinstance(raw, bytes) else raw.encode(), decimal_comma=decimal_comma)
    return [line.cells for line in sheet.lines]


SAMPLE = "Farbe;Größe;Preis\nSegelweiß;500 ml;9,50 €\n"
READ = [("Farbe", "Größe", "Preis"), ("Segelweiß", "500 ml", "9,50 €")]


@pytest.mark.parametrize(
    "raw",
    [
        SAMPLE.encode(),
        SAMPLE.encode("utf-8-sig"),
        codecs.BOM_UTF16_LE + SAMPLE.encode("utf-16-le"),
        codecs.BOM_UTF16_BE + SAMPLE.encode("utf-16-be"),
        SAMPLE.encode("utf-16-le"),
        SAMPLE.encode("cp1252"),
        SAMPLE.replace("\n", "\r\n").encode(),
        ("sep=;\r\n" + SAMPLE).encode(),
        SAMPLE.replace(";", "\t").encode(),
        SAMPLE.replace(";", "|").encode(),
    ],
)
def test_every_encoding_and_delimiter_that_spreadsheets_write_is_found_out(raw: bytes) -> None:
    assert cells(raw) == READ


def test_a_guessed_encoding_is_said() -> None:
    assert read_file(SAMPLE.encode("cp1252"), decimal_comma=False).notes
    assert not read_file(SAMPLE.encode(), decimal_comma=False).notes


def test_commas_inside_cells_do_not_make_columns() -> None:
    assert cells("name;note\nEbb;thin, blue, old\nTide;thick, red, new\n")[1] == ("Ebb", "thin, blue, old")


def test_quoted_cells_may_hold_delimiters_quotes_and_line_breaks() -> None:
    """RFC 4180, section 2."""
    assert cells('a,b\n"x, ""y""","1\n2"\n')[1] == ('x, "y"', "1\n2")


def test_lines_keep_their_numbers_though_blank_ones_are_left_out() -> None:
    sheet = read_file(b"a,b\n\n\n1,2\n", decimal_comma=False)
    assert [line.number for line in sheet.lines] == [1, 4]


TEXTS = st.text(
    st.characters(codec="utf-8", exclude_characters="\0\r\n\ufeff", exclude_categories=["Cc"]), max_size=20
)


@given(st.lists(st.lists(TEXTS, min_size=2, max_size=5), min_size=1, max_size=8))
def test_what_a_csv_writer_writes_is_read_back(rows: list[list[str]]) -> None:
    rows = [["heading one", "heading two", "three", "four", "five"], *rows]
    out = io.StringIO(newline="")
    csv.writer(out, quoting=csv.QUOTE_ALL).writerows(rows)
    expected = [[cell.strip() for cell in row] for row in rows]
    expected = [row for row in expected if any(row)]
    for row in expected:
        while not row[-1]:
            row.pop()
    found = [list(row) for row in cells(out.getvalue().encode("utf-8-sig"))]
    assert [[cell.lstrip("'") for cell in row] for row in found] == [
        [cell.lstrip("'") for cell in row] for row in expected
    ]


def test_a_workbook_is_read_as_somebody_here_would_type_it() -> None:
    raw = book(
        [["name", "price", "day", "ok", "n"], ["Ebb", 0.1 + 0.2, date(2026, 3, 12), True, Decimal("1250")]]
    )
    assert cells(raw)[1] == ("Ebb", "0.3", "2026-03-12", "yes", "1250")
    assert cells(raw, decimal_comma=True)[1][1] == "0,3"


def test_the_first_sheet_that_holds_something_is_read_and_named() -> None:
    sheet = read_file(book([], [["a", "b"], ["1", "2"]]), decimal_comma=False)
    assert [line.cells for line in sheet.lines] == [("a", "b"), ("1", "2")]
    assert "Sheet 2" in sheet.notes[0]


def test_a_formula_is_read_as_its_last_value_with_a_note() -> None:
    """Nobody works out formulas here: a workbook keeps the last value beside each (ISO/IEC 29500-1, 18.3.1.4)."""
    raw, part = book([["a", "b"], ["x", "=1+1"]]), "xl/worksheets/sheet1.xml"
    with zipfile.ZipFile(io.BytesIO(raw)) as archive:
        xml = archive.read(part)
    raw = with_part(raw, part, re.sub(rb"(</f>)<v ?/?>(</v>)?", rb"\1<v>2</v>", xml))
    sheet = read_file(raw, decimal_comma=False)
    assert sheet.lines[1].cells == ("x", "2")
    assert sheet.notes


def hostile() -> dict[str, bytes]:
    plain = book([["a", "b"], ["1", "2"]])
    bomb = io.BytesIO()
    with zipfile.ZipFile(bomb, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("[Content_Types].xml", b"<Types/>")
        archive.writestr("xl/workbook.xml", b" " * 60_000_000)
    many = io.BytesIO()
    with zipfile.ZipFile(many, "w") as archive:
        archive.writestr("[Content_Types].xml", b"<Types/>")
        for number in range(600):
            archive.writestr(f"xl/{number}.xml", b"<a/>")
        archive.writestr("xl/workbook.xml", b"<a/>")
    laughs = b'<?xml version="1.0"?><!DOCTYPE a [<!ENTITY b "cc"><!ENTITY d "&b;&b;&b;">]><sst>&d;</sst>'
    start = 30 + plain[26] + plain[28]  # of the first part's deflated bytes (PKZIP APPNOTE, section 4.3.7)
    return {
        "bomb": bomb.getvalue(),
        "many parts": many.getvalue(),
        "entities": with_part(plain, "xl/sharedStrings.xml", laughs),
        "entities in UTF-16": with_part(plain, "xl/sharedStrings.xml", laughs.decode().encode("utf-16")),
        "macros": with_part(plain, "xl/vbaProject.bin", b"x"),
        "declared macros": with_part(plain, "[Content_Types].xml", b'<Types a="sheet.macroEnabled.main+xml"/>'),
        "no workbook": with_part(plain, "xl/workbook.xml", b"<nothing"),
        "another archive": with_part(b"PK\x05\x06" + bytes(18), "a.txt", b"x"),
        "cut off": plain[: len(plain) // 2],
        "spoilt": plain[:start] + b"\xff" * 9 + plain[start + 9 :],
        "old": b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(600),
        "picture": b"\x89PNG\r\n\x1a\n" + bytes(range(256)) * 20,
        "zeros": bytes(5000),
        "empty": b"",
        "blank": b"\n\n;;;\n",
        "unclosed": b'a,b\n"x,1\n2,3\n',
        "too large": b"a,b\n" + b"x" * MOST_BYTES,
        "too many lines": b"a,b\n" * (MOST_LINES + 1),
        "too many columns": b"," .join([b"x"] * (MOST_COLUMNS + 1)),
        "too long a cell": b"a,b\n1," + b"x" * (LONGEST_CELL + 1),
    }  # fmt: skip


@pytest.mark.parametrize("name", hostile())
def test_what_is_hostile_or_broken_is_refused_with_advice(name: str) -> None:
    with pytest.raises(InputError) as refusal:
        read_file(hostile()[name], decimal_comma=False)
    assert len(str(refusal.value)) > 20


@given(st.binary(max_size=400))
def test_no_bytes_make_it_fail_in_any_other_way(raw: bytes) -> None:
    for head in (b"", b"PK\x03\x04", b"\xff\xfe"):
        with contextlib.suppress(InputError):
            read_file(head + raw, decimal_comma=False)
