"""The price list, read back with pdfium."""

import re
import subprocess
import sys
from dataclasses import replace
from io import BytesIO
from itertools import pairwise
from typing import Any

import pypdfium2
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from costing.papers.poster import MOST_PIECES, draw_poster
from costing.papers.price_list import NOTHING_FOR_SALE, ListStyle, PriceListHeading, PriceListRow
from studio.errors import InputError
from studio.papers.frame import MM, paper_named
from tests.costing.papers.drawing import draw_price_list
from tests.studio.papers.test_paper import assert_inside_margins, inked_box, page_images, picture, read_pages

HEADING = PriceListHeading(
    studio="Wrackline Studio",
    place_and_date="Lantern Quay spring market, 14 March 2026",
    currency_note="Prices in pounds sterling (GBP).",
    tax_note="Prices include tax where it applies. General information, not tax or legal advice.",
)
ALL_PAPERS = ["A4", "A5", "A6", "US Letter"]


def make_row(number: int = 1, **changes: Any) -> PriceListRow:
    plain = PriceListRow(
        code=f"SL{number:04}",
        title=f"Tide{number:04}",
        size_cm="30 × 40 cm",
        size_in="11¾ × 15¾ in",
        medium="Acrylic on canvas, ring pour",
        year="2026",
        price=f"£{number}.50",
    )
    return replace(plain, **changes)


def patterned_photo(number: int) -> bytes:
    file = BytesIO()
    Image.linear_gradient("L").resize((144, 144)).rotate(number).save(file, "JPEG", quality=70)
    return file.getvalue()


def letter_edges(pdf: bytes) -> dict[str, tuple[float, float]]:
    """Return how far left and how far right each letter is found on the first page, in points."""
    document = pypdfium2.PdfDocument(pdf)
    text = document[0].get_textpage()
    edges: dict[str, tuple[float, float]] = {}
    for index in range(text.count_chars()):
        letter = chr(pypdfium2.raw.FPDFText_GetUnicode(text, index))
        left, _, right, _ = text.get_charbox(index)
        known = edges.get(letter, (left, right))
        edges[letter] = (min(left, known[0]), max(right, known[1]))
    document.close()
    return edges


def all_text(rows: list[PriceListRow], paper: str = "A4") -> str:
    return " ".join(read_pages(draw_price_list(rows, HEADING, paper=paper)))


@pytest.mark.parametrize("paper", ALL_PAPERS)
@pytest.mark.parametrize("count", [1, 23, 400])
def test_every_piece_is_listed_exactly_once(paper: str, count: int) -> None:
    words = all_text([make_row(number) for number in range(1, count + 1)], paper).split()
    for number in range(1, count + 1):
        assert words.count(f"SL{number:04}") == 1
        assert words.count(f"Tide{number:04}") == 1
        assert words.count(f"£{number}.50") == 1
    assert words.count("11¾") == count


@pytest.mark.parametrize("paper", ALL_PAPERS)
def test_every_page_carries_the_column_headings_the_caution_and_its_number(paper: str) -> None:
    pages = read_pages(draw_price_list([make_row(number) for number in range(60)], HEADING, paper=paper))
    assert len(pages) > 1
    for number, page in enumerate(pages, start=1):
        assert f"page {number} of {len(pages)}" in page
        assert page.count("H × W") == 1
        assert page.count("General information, not tax or legal advice.") == 1
        assert ("Prices in pounds sterling (GBP)." in page) == (number == 1)


@pytest.mark.parametrize("paper", ALL_PAPERS)
def test_an_empty_list_says_that_nothing_is_for_sale_yet(paper: str) -> None:
    pages = read_pages(draw_price_list([], HEADING, paper=paper))
    assert len(pages) == 1
    assert NOTHING_FOR_SALE in pages[0]
    assert "page 1 of 1" in pages[0]


@pytest.mark.parametrize(
    "title",
    [
        "<b>x",
        "</para>",
        '<img src="/etc/hostname">',
        "&amp;",
        "Θάλασσα",
        "Прилив",
        "Šedá žluť",
        "“Low” & slow",
    ],
)
def test_a_title_prints_as_it_was_typed(title: str) -> None:
    text = all_text([make_row(title=title, note=title, medium=title)])
    assert text.count(title) == 3


@pytest.mark.parametrize(
    "price", ["£45.00", "€1.250,00", "₹1,23,450.00", "₺2.500,00", "1\u202f250,00\u00a0€"]
)
@pytest.mark.parametrize("paper", ["A4", "A6"])
def test_a_price_is_printed_whole_in_any_currency(price: str, paper: str) -> None:
    assert " ".join(price.split()) in all_text([make_row(price=price, title="Long " * 40)], paper)


def test_a_price_too_wide_for_its_column_is_made_smaller_not_cut() -> None:
    assert "IDR 1,234,567,890,123.00" in all_text([make_row(price="IDR 1,234,567,890,123.00")], "A5")


@pytest.mark.parametrize("paper", ALL_PAPERS)
@pytest.mark.parametrize("photo", [None, picture(160, 90)], ids=["plain", "with photos"])
def test_nothing_is_drawn_outside_the_margins(paper: str, photo: bytes | None) -> None:
    long = "Slack water at the harbour wall with gulls " * 12
    rows = [make_row(number, thumbnail=photo) for number in range(12)]
    rows += [make_row(title=long, medium=long, note=long, size_cm=long, size_in=long, price=long, code=long)]
    rows += [make_row(title="W" * 400, medium="W" * 400, note="W" * 400, year="W" * 400)]
    assert_inside_margins(draw_price_list(rows, HEADING, paper=paper), paper_named(paper))


@pytest.mark.parametrize("paper", ALL_PAPERS)
def test_a_very_long_title_is_shortened(paper: str) -> None:
    text = all_text([make_row(title="Slack water and the long way home " * 30)], paper)
    assert text.count("…") == 1
    assert text.count("Slack water") <= 3


@pytest.mark.parametrize("paper", ALL_PAPERS)
def test_columns_keep_clear_of_one_another(paper: str) -> None:
    wide = make_row(
        title="Ω" * 300, medium="Ж" * 90, year="Ψ" * 90, size_cm="9" * 60, size_in="8" * 60, price="£" * 60
    )
    edges = letter_edges(draw_price_list([wide], HEADING, paper=paper))
    columns = "Ω£" if paper == "A6" else "Ω8£"  # so much leaves the medium no column of its own
    for nearer, farther in pairwise(columns):
        assert edges[nearer][1] + 4 < edges[farther][0]
    assert edges["£"][1] <= paper_named(paper).width - paper_named(paper).margin + 1


def test_no_glyph_is_missing_from_any_script() -> None:
    text = all_text([make_row(title="潮 🌊 \x00 q\u0301", note="☐ ✓ →", price="₺5")])
    assert "\x00" not in text
    assert "■" not in text
    assert "? ? q\u0301" in text


@pytest.mark.parametrize("paper", ALL_PAPERS)
def test_the_same_rows_make_the_same_bytes(paper: str) -> None:
    rows = [make_row(number, thumbnail=picture(colour=f"#{number:02}4060")) for number in range(25)]
    assert draw_price_list(rows, HEADING, paper=paper) == draw_price_list(rows, HEADING, paper=paper)


def test_photos_are_eighteen_millimetres_on_a4_and_keep_their_proportions() -> None:
    with_photo, without = make_row(1, thumbnail=picture(90, 45)), make_row(2)
    scale = 4
    (image,) = page_images(draw_price_list([with_photo, without], HEADING), scale=scale)
    column = image.crop((0, 166 * scale, int((18 + 19) * MM * scale), 300 * scale))
    box = inked_box(column.point(lambda grey: 0 if grey < 128 else 255))
    assert box is not None
    assert (box[2] - box[0]) / scale == pytest.approx(18 * MM, abs=1)
    assert (box[3] - box[1]) / scale == pytest.approx(9 * MM, abs=1)


def test_the_photo_column_is_there_only_when_a_piece_has_a_photo() -> None:
    def left_edge_of_title(rows: list[PriceListRow]) -> float:
        return letter_edges(draw_price_list(rows, HEADING))["Ω"][0]

    plain = [make_row(1, title="ΩΩΩ")]
    mixed = [*plain, make_row(2, thumbnail=picture())]
    assert left_edge_of_title(mixed) - left_edge_of_title(plain) > 18 * MM


def test_equal_photos_are_stored_once() -> None:
    rows = [make_row(number, thumbnail=picture()) for number in range(40)]
    assert draw_price_list(rows, HEADING).count(b"/Subtype /Image") == 1


def test_a_damaged_photo_does_not_stop_the_list() -> None:
    assert "Tide0001" in all_text([make_row(1, thumbnail=b"not a photo")])


def test_it_refuses_an_unknown_paper() -> None:
    with pytest.raises(InputError, match="napkin"):
        draw_price_list([make_row()], HEADING, paper="napkin")


def test_photos_go_into_the_file_as_jpegs_of_the_size_that_is_printed() -> None:
    """18 mm at 200 dpi are 142 pixels."""
    rows = [make_row(number, thumbnail=patterned_photo(number)) for number in range(200)]
    pdf = draw_price_list(rows, HEADING)
    assert pdf.count(b"/Subtype /Image") == pdf.count(b"/DCTDecode") == 200
    assert {int(width) for width in re.findall(rb"/Width (\d+)", pdf)} <= set(range(100, 143))
    assert len(pdf) < 200 * 5_000 + 100_000  # so that a list of 1,000 is at most 5 MB


@pytest.mark.parametrize("style", ListStyle)
@pytest.mark.parametrize("paper", ["A4", "A5", "US Letter"])
def test_each_style_prints_titles_and_prices_within_the_margins(style: ListStyle, paper: str) -> None:
    rows = [make_row(number, thumbnail=picture(160, 90)) for number in range(9)]
    rows.append(make_row(10, title="Slack water and the long way home " * 6))
    if style == ListStyle.POSTER:
        pdf = draw_poster(rows, HEADING, paper=paper)
    else:
        pdf = draw_price_list(rows, HEADING, paper=paper, style=style)
    assert_inside_margins(pdf, paper_named(paper))
    words = " ".join(read_pages(pdf))
    assert all(row.title in words and row.price in words for row in rows[:-1])


def test_a_gallery_list_numbers_its_pieces() -> None:
    rows = [make_row(number, title=f"Tide {chr(97 + number)}") for number in range(3)]
    words = " ".join(read_pages(draw_price_list(rows, HEADING, style=ListStyle.GALLERY)))
    assert all(f"{number} Tide {letter}" in words for number, letter in enumerate("abc", start=1))


@pytest.mark.parametrize("count", [0, 25])
def test_a_poster_refuses_none_and_more_than_it_can_show(count: int) -> None:
    with pytest.raises(InputError, match="1 to 24"):
        draw_poster([make_row()] * count, HEADING)


@given(count=st.integers(1, MOST_PIECES), paper=st.sampled_from(["A4", "A5", "US Letter"]))
def test_a_poster_shows_every_piece_once_on_pages_as_full_as_each_other(count: int, paper: str) -> None:
    titles = [f"Tide {number:02}" for number in range(count)]
    pages = read_pages(draw_poster([make_row(title=title) for title in titles], HEADING, paper=paper))
    shown = [re.findall(r"Tide \d\d", page) for page in pages]
    assert sorted(title for page in shown for title in page) == titles
    assert len(pages) == -(-count // 9)
    assert max(map(len, shown)) - min(map(len, shown)) <= 1


def test_a_medium_takes_the_width_that_no_title_needs_and_the_year_no_third_line() -> None:
    long = make_row(medium="Acrylic on round board, ring pour")
    (short,) = read_pages(draw_price_list([long], HEADING))
    assert f"{long.medium} {long.year}" in short  # on one line, the year beneath it
    titled = replace(
        long, title="Tide under the long sea wall, seen from the sluice in the last of the light"
    )
    (words,) = read_pages(draw_price_list([titled], HEADING))
    assert f"{long.medium}, {long.year}" in words


def test_rows_stand_closer_where_that_saves_a_page_with_hardly_anything_on_it() -> None:
    def rows_of_the_last(count: int) -> int:
        rows = [make_row(number, title=f"Tide {number:02}", thumbnail=picture()) for number in range(count)]
        return len(re.findall(r"Tide \d\d", read_pages(draw_price_list(rows, HEADING))[-1]))

    full = next(count for count in range(1, 30) if rows_of_the_last(count + 1) < count + 1)
    assert full > 1
    assert rows_of_the_last(full + 1) > 1  # one alone would have fitted, with the others closer


def test_grey_paper_has_no_colour_in_it() -> None:
    rows = [make_row(1, thumbnail=picture(colour="#ff2080"))]
    grey = paper_named("A4", is_grey=True)
    document = pypdfium2.PdfDocument(draw_price_list(rows, HEADING, paper=grey))
    pixels = document[0].render().to_pil().convert("RGB").getcolors(maxcolors=1_000_000)
    document.close()
    assert pixels
    assert all(max(colour) - min(colour) <= 1 for _count, colour in pixels)


def test_importing_it_does_not_load_reportlab() -> None:
    code = "import sys, costing.papers.price_list; sys.exit('reportlab' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


@pytest.mark.parametrize("style", [ListStyle.LIST, ListStyle.PICTURES, ListStyle.GALLERY])
def test_a_title_keeps_room_beside_long_sizes_and_prices(style: ListStyle) -> None:
    wide = make_row(
        title="Slack water at the harbour wall",
        size_cm="120.5 × 180.25 cm + 30 cm round",
        medium="Acrylic on deep-edged canvas and cradled board, swipe",
        price="£99,999,999,999.99",
        thumbnail=picture(),
    )
    pdf = draw_price_list([wide], HEADING, style=style)
    (page,) = read_pages(pdf)
    assert "Slack water" in page
    assert "wall" in page
    assert "£99,999,999,999.99" in page
    assert_inside_margins(pdf, paper_named("A4"))


def test_the_words_of_a_poster_can_be_read_on_small_paper() -> None:
    rows = [make_row(number, title=f"Ebb {number}") for number in range(9)]
    with pypdfium2.PdfDocument(draw_poster(rows, HEADING, paper="A5")) as pdf:
        text = pdf[0].get_textpage()
        heights = [
            top - bottom for _left, bottom, _right, top in map(text.get_rect, range(text.count_rects()))
        ]
    assert min(heights) > 3.5  # points, capitals of type of 6 points
