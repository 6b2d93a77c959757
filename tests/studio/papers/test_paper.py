"""Papers, read back with pdfium: an independent reader of both the text and the marks."""

import gc
import re
import subprocess
import sys
import tracemalloc
from concurrent.futures import ThreadPoolExecutor
from io import BytesIO
from random import Random

import pypdfium2
import pytest
from django.utils import translation
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image, ImageChops

from studio.errors import InputError
from studio.papers.blocks import fill_pages
from studio.papers.frame import Box, PageFrame, Paper, Sheet, paper_named
from studio.papers.typography import (
    ELLIPSIS,
    INK,
    MISSING,
    TextStyle,
    fit,
    printable,
    shorten,
    text_width,
    wrap,
)

PLAIN = TextStyle(10)
LATIN_GREEK_CYRILLIC = "Šedá žluť çà ñ ß | Θάλασσα ώρα | Прилив щёки ґанок"
MONEY_SIGNS = "£1 €2 ₹3 ₺4 ¥5 $6 ₴7"
MARKUP = ["<b>x", "</para>", '<img src="/etc/hostname">', "&amp;", "<a href='x'>y</a>", "{{ x }} %s \\n ("]


def read_pages(pdf: bytes) -> list[str]:
    """Return the text of each page as pdfium copies it out, line ends as spaces."""
    document = pypdfium2.PdfDocument(pdf)
    try:
        return [" ".join(page.get_textpage().get_text_range().split()) for page in document]
    finally:
        document.close()


def page_images(pdf: bytes, scale: float = 1) -> list[Image.Image]:
    """Return each page as a grey picture, scale pixels to the point."""
    document = pypdfium2.PdfDocument(pdf)
    try:
        return [page.render(scale=scale, grayscale=True).to_pil().convert("L") for page in document]
    finally:
        document.close()


def inked_box(image: Image.Image) -> tuple[int, int, int, int] | None:
    """Return left, top, right and bottom of everything that is not white."""
    return ImageChops.invert(image).getbbox()


def assert_inside_margins(pdf: bytes, paper: Paper) -> None:
    for image in page_images(pdf, scale=2):
        box = inked_box(image)
        assert box is not None
        left, top, right, bottom = (edge / 2 for edge in box)
        margin = paper.margin - 1  # a point for the soft edge of a rasterised line
        assert left >= margin
        assert top >= margin
        assert right <= paper.width - margin
        assert bottom <= paper.height - margin


def picture(width: int = 60, height: int = 40, colour: str = "#205060", kind: str = "JPEG") -> bytes:
    file = BytesIO()
    Image.new("RGB", (width, height), colour).save(file, kind)
    return file.getvalue()


def random_photo(number: int) -> bytes:
    file = BytesIO()
    noise = Image.frombytes("L", (200, 200), Random(number).randbytes(40_000))
    noise.save(file, "JPEG", quality=90)
    return file.getvalue()


def sheet_on(paper: str = "A4") -> Sheet:
    return Sheet(paper_named(paper), title="Count sheet", author="Wrackline Studio")


def sheet_saying(*texts: str) -> bytes:
    sheet = sheet_on()
    for number, text in enumerate(texts):
        sheet.text(72, 72 + 20 * number, text, PLAIN)
    return sheet.finish()


# Millimetres: ISO 216 for the A sizes; US Letter is 8.5 × 11 in (from memory).
@pytest.mark.parametrize(
    ("name", "width_mm", "height_mm"),
    [("A4", 210, 297), ("A5", 148, 210), ("A6", 105, 148), ("US Letter", 8.5 * 25.4, 11 * 25.4)],
)
def test_it_draws_on_the_standard_sizes(name: str, width_mm: float, height_mm: float) -> None:
    sheet = sheet_on(name)
    sheet.text(50, 50, "a", PLAIN)
    document = pypdfium2.PdfDocument(sheet.finish())
    width, height = document[0].get_size()
    document.close()
    assert width == pytest.approx(width_mm / 25.4 * 72, abs=0.01)
    assert height == pytest.approx(height_mm / 25.4 * 72, abs=0.01)


def test_each_a_size_is_the_one_before_it_cut_in_half() -> None:
    # ISO 216: halve the long side, whole millimetres.
    for larger, smaller in (("A4", "A5"), ("A5", "A6")):
        assert paper_named(smaller).height_mm == paper_named(larger).width_mm
        assert paper_named(smaller).width_mm == paper_named(larger).height_mm // 2


@pytest.mark.parametrize("name", ["letter", "Letter", "US LETTER", " us  letter "])
def test_it_knows_a_paper_by_its_everyday_names(name: str) -> None:
    assert paper_named(name).name == "US Letter"


def test_it_refuses_an_unknown_paper_and_lists_the_known_ones() -> None:
    with pytest.raises(InputError, match=r"“B3” is not a known document.*A4, A5, A6, US Letter") as refusal:
        paper_named("B3")
    assert refusal.value.field == "paper"


def test_importing_it_does_not_load_reportlab() -> None:
    code = "import sys, studio.papers.frame; sys.exit('reportlab' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


@pytest.mark.parametrize("text", [LATIN_GREEK_CYRILLIC, MONEY_SIGNS, *MARKUP, "→ ✓ ☐ ½ ⅝ × · “x”"])
@pytest.mark.parametrize("bold", [False, True])
def test_it_prints_every_text_as_it_was_typed(text: str, bold: bool) -> None:
    sheet = sheet_on()
    sheet.text(40, 72, text, TextStyle(10, bold=bold))
    assert read_pages(sheet.finish()) == [text]


@pytest.mark.parametrize(
    ("typed", "printed"),
    [
        ("a\x00b\x07c\x1b[31m", "abc[31m"),
        ("two\r\nlines\tand\u2028more", "two lines and more"),
        ("  wide   gaps ", "wide gaps"),
        ("zero\u200bwidth \u202eturned \ufeffmark soft\u00adhyphen", "zerowidth turned mark softhyphen"),
        ("潮 🌊", f"{MISSING} {MISSING}"),
        ("lone \ud83c surrogate", f"lone {MISSING} surrogate"),
        ("Cafe\u0301", "Café"),
        ("1\u202f250,00\u00a0€", "1\u202f250,00\u00a0€"),
        ("", ""),
    ],
)
def test_it_shows_what_the_fonts_lack_and_drops_what_cannot_be_seen(typed: str, printed: str) -> None:
    assert printable(typed) == printed


@settings(max_examples=60, deadline=None)
@given(st.text(alphabet=st.characters(), min_size=1, max_size=40))
def test_no_text_leaves_a_missing_glyph_behind(text: str) -> None:
    (page,) = read_pages(sheet_saying(text, "end"))
    assert "\x00" not in page
    assert "■" not in page or "■" in text
    assert page.endswith("end")


def test_letters_keep_accents_that_have_no_letter_of_their_own() -> None:
    assert read_pages(sheet_saying("q\u0301x")) == ["q\u0301x"]
    assert text_width("q\u0301x", PLAIN) == pytest.approx(text_width("qx", PLAIN))


@pytest.mark.parametrize("bold", [False, True])
def test_widths_agree_with_reportlab(bold: bool) -> None:
    style = TextStyle(9.5, bold=bold)
    sheet_saying("fonts are registered with the first sheet")
    from reportlab.pdfbase.pdfmetrics import stringWidth

    for text in (LATIN_GREEK_CYRILLIC, MONEY_SIGNS, "plain words", "潮"):
        assert text_width(text, style) == pytest.approx(stringWidth(printable(text), style.font, 9.5))


@given(st.text(max_size=80), st.floats(30, 300), st.booleans())
def test_shortened_text_fits_and_is_the_start_of_what_was_typed(text: str, width: float, bold: bool) -> None:
    style = TextStyle(10, bold=bold)
    short = shorten(text, style, width)
    assert text_width(short, style) <= width + 1e-6
    if short != printable(text):
        assert short.endswith(ELLIPSIS)
        assert printable(text).startswith(short.removesuffix(ELLIPSIS))


def test_it_shortens_between_words_where_it_can() -> None:
    assert shorten("The long way back, to the harbour wall", PLAIN, 115) == "The long way back…"
    assert shorten("Unbrokenwordofgreatlength", PLAIN, 60).startswith("Unbroke")


def test_a_letter_and_its_accent_are_never_parted() -> None:
    typed = "q\u0301" * 40
    assert shorten(typed, PLAIN, 60).removesuffix(ELLIPSIS).endswith("q\u0301")


@given(st.text(max_size=120), st.floats(40, 200), st.integers(1, 4))
def test_wrapped_lines_fit_and_lose_nothing_but_what_the_ellipsis_says(
    text: str, width: float, most: int
) -> None:
    lines = wrap(text, PLAIN, width, most)
    assert len(lines) <= most
    assert all(text_width(line, PLAIN) <= width + 1e-6 for line in lines)
    kept = "".join(lines).replace(" ", "")
    everything = printable(text).replace(" ", "")
    assert kept == everything or everything.startswith(kept.removesuffix(ELLIPSIS))


def test_it_wraps_at_words_and_breaks_only_a_word_too_long_for_the_line() -> None:
    assert wrap("low tide at the quay", PLAIN, 60, 3) == ["low tide at", "the quay"]
    first, second = wrap("Saltmarshlanternquay", PLAIN, 70, 2)
    assert first + second == "Saltmarshlanternquay"
    assert wrap("   ", PLAIN, 60, 3) == []


def test_it_makes_figures_smaller_before_it_cuts_them() -> None:
    text, style = fit("₹1,23,45,678.00", TextStyle(20, bold=True), 90)
    assert text == "₹1,23,45,678.00"
    assert text_width(text, style) == pytest.approx(90)
    assert fit("£4.50", TextStyle(20), 90) == ("£4.50", TextStyle(20))
    tiny, smallest = fit("9" * 500, TextStyle(20), 90)
    assert smallest.size == 6
    assert tiny.endswith(ELLIPSIS)


@given(st.lists(st.floats(1, 150), max_size=60), st.floats(50, 300), st.floats(50, 300))
def test_every_row_gets_one_place_and_no_page_overflows(
    heights: list[float], first: float, later: float
) -> None:
    pages = fill_pages(heights, first, later)
    assert [index for page in pages for index in page] == list(range(len(heights)))
    for number, page in enumerate(pages):
        used = sum(heights[index] for index in page)
        assert len(page) <= 1 or used <= (later if number else first) + 1e-6


@given(st.lists(st.tuples(st.floats(1, 100), st.floats(0, 50)), max_size=60))
def test_there_is_room_for_what_is_repeated_at_the_top_of_a_later_page(
    rows: list[tuple[float, float]],
) -> None:
    heights, again = [height for height, _again in rows], [above for _height, above in rows]
    for page in fill_pages(heights, 150, 150, again)[1:]:
        used = again[page[0]] + sum(heights[index] for index in page)
        assert len(page) == 1 or used <= 150 + 1e-6


def test_a_later_page_names_the_paper_as_far_as_there_is_room() -> None:
    title = "Cost sheet: Small hours between the moorings and the long sea wall"
    frame, sheet = PageFrame("Wrackline Studio", title), sheet_on("A4")
    frame.draw(sheet, 2, 2)
    assert title in read_pages(sheet.finish())[0]


def test_it_names_itself_its_author_and_its_language() -> None:
    with translation.override("de"):
        sheet = Sheet(paper_named("A5"), title="Count sheet (β)", author="Wrackline Studio")
    sheet.text(50, 50, "a", PLAIN)
    pdf = sheet.finish()
    document = pypdfium2.PdfDocument(pdf)
    facts = document.get_metadata_dict()
    document.close()
    assert facts["Title"] == "Count sheet (β)"
    assert facts["Author"] == "Wrackline Studio"
    assert re.search(rb"/Lang \(de\)", pdf)


def framed(paper: str, pages: int = 3) -> bytes:
    frame = PageFrame("Wrackline Studio", "Count sheet", "14 March 2026", "Top shelf", "Weigh, then write.")
    sheet = sheet_on(paper)
    for page in range(1, pages + 1):
        body = frame.draw(sheet, page, pages)
        sheet.text(body.left, body.bottom, "last line", PLAIN)
        sheet.turn_page()
    return sheet.finish()


@pytest.mark.parametrize("paper", ["A4", "A5", "A6", "US Letter"])
def test_the_frame_numbers_every_page_and_keeps_inside_the_margins(paper: str) -> None:
    pdf = framed(paper)
    pages = read_pages(pdf)
    assert [re.findall(r"page \d of \d", page) for page in pages] == [[f"page {n} of 3"] for n in (1, 2, 3)]
    assert all("Wrackline Studio" in page and "Weigh, then write." in page for page in pages)
    assert ["Top shelf" in page for page in pages] == [True, False, False]
    assert_inside_margins(pdf, paper_named(paper))


def test_a_long_studio_name_and_caution_stay_inside_the_margins() -> None:
    frame = PageFrame("S" * 300, "T" * 300, "place " * 80, "note " * 80, "caution " * 200)
    for paper in ("A6", "A4"):
        sheet = sheet_on(paper)
        for page in (1, 2):
            frame.draw(sheet, page, 2)
            sheet.turn_page()
        assert_inside_margins(sheet.finish(), paper_named(paper))


def test_the_same_sheet_is_the_same_bytes_even_from_several_threads_at_once() -> None:
    first = framed("A4")
    with ThreadPoolExecutor(4) as pool:
        assert set(pool.map(framed, ["A4"] * 12)) == {first}


def test_equal_photos_are_stored_once() -> None:
    sheet = sheet_on()
    for row in range(5):
        sheet.photo(picture(), Box(72, 72 + 60 * row, 122, 122 + 60 * row))
    sheet.photo(picture(colour="#a04020"), Box(200, 72, 250, 122))
    assert sheet.finish().count(b"/Subtype /Image") == 2


def test_a_photo_of_an_earlier_page_is_drawn_again_from_there() -> None:
    sheet = sheet_on()
    for colour in ("#205060", "#a04020", "#205060"):
        sheet.photo(picture(colour=colour), Box(100, 100, 190, 160))
        sheet.turn_page()
    pdf = sheet.finish()
    assert pdf.count(b"/Subtype /Image") == 2
    first, second, third = page_images(pdf)
    assert first.tobytes() == third.tobytes() != second.tobytes()


def test_a_finished_page_leaves_memory() -> None:
    def peak(pages: int) -> int:
        noise = [random_photo(number) for number in range(pages)]
        tracemalloc.start()
        try:
            sheet = sheet_on()
            for photo in noise:
                sheet.photo(photo, Box(72, 72, 472, 472))
                sheet.turn_page()
                gc.collect()  # when garbage goes is not a matter of pages
            sheet.finish_file().close()
            return tracemalloc.get_traced_memory()[1]
        finally:
            tracemalloc.stop()

    gc.freeze()  # or each page would look through all that the tests before have left
    peak(1)  # fonts are read once
    assert peak(80) < peak(40) + 400_000  # of some 2 MB more in the file


@pytest.mark.parametrize("kind", ["JPEG", "PNG"])
def test_a_photo_keeps_its_proportions_inside_its_box(kind: str) -> None:
    sheet = sheet_on()
    sheet.photo(picture(90, 30, kind=kind), Box(100, 100, 190, 190))
    (image,) = page_images(sheet.finish())
    box = inked_box(image)
    assert box is not None
    assert box == pytest.approx((100, 100, 190, 130), abs=1)


def test_the_clear_parts_of_a_photo_show_the_paper() -> None:
    clear, file = Image.new("RGBA", (40, 40), (0, 0, 0, 0)), BytesIO()
    clear.putpixel((20, 20), (0, 0, 0, 255))
    clear.save(file, "PNG")
    sheet = sheet_on()
    sheet.photo(file.getvalue(), Box(100, 100, 140, 140))
    (image,) = page_images(sheet.finish(), scale=4)
    box = inked_box(image)
    assert box is not None
    assert box[2] - box[0] < 40  # the dot and what a JPEG smears round it, not the whole photo


@pytest.mark.parametrize(
    "photo",
    [b"", b"not a photo", picture()[:200], picture(kind="PNG")[:60], picture(2500, 2500, kind="PNG")],
    ids=["empty", "text", "half a JPEG", "half a PNG", "huge"],
)
def test_a_photo_that_cannot_be_read_leaves_an_empty_frame(photo: bytes) -> None:
    sheet = sheet_on()
    sheet.photo(photo, Box(100, 100, 150, 150))
    sheet.text(72, 300, "the rest of the page", PLAIN)
    pdf = sheet.finish()
    assert b"/Subtype /Image" not in pdf
    assert read_pages(pdf) == ["the rest of the page"]
    (image,) = page_images(pdf)
    assert inked_box(image.crop((90, 90, 160, 160))) == pytest.approx((10, 10, 60, 60), abs=1)
    assert inked_box(image.crop((104, 104, 146, 146))) is None


def test_text_can_end_or_be_centred_at_a_place() -> None:
    sheet = sheet_on()
    sheet.text(300, 100, "HHHH", TextStyle(20, colour=INK), "right")
    sheet.text(300, 200, "HHHH", TextStyle(20, colour=INK), "centre")
    (image,) = page_images(sheet.finish())
    ended, centred = inked_box(image.crop((0, 60, 595, 110))), inked_box(image.crop((0, 160, 595, 210)))
    assert ended is not None
    assert centred is not None
    assert ended[2] == pytest.approx(300, abs=3)
    assert (centred[0] + centred[2]) / 2 == pytest.approx(300, abs=2)
