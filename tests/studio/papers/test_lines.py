"""Papers of lines: what stays together, and type made smaller before a page is nearly empty."""

from dataclasses import replace

import pytest

from studio.papers.frame import PageFrame, paper_named
from studio.papers.lines import BLANK, Line, LinesPaper, draw_lines
from tests.studio.papers.test_paper import assert_inside_margins, inked_box, page_images, read_pages

FRAME = PageFrame("Wrackline Studio", "Consignment note 2")


def note(lines: int, *, figure: str = "£4.00", notes: str = "Labels on the back stay on.") -> LinesPaper:
    return LinesPaper(
        addresses=(),
        facts=[("Number", "2")],
        name_head="Piece",
        heads=["Price"],
        shares=[0.2],
        lines=[Line(f"Tide {number}", "P0001", [figure]) for number in range(lines)],
        total="£4.00",
        notes=notes,
        signatures=["For the studio", "For the gallery"],
    )


@pytest.mark.parametrize("paper", ["A4", "A5", "A6", "US Letter"])
def test_signatures_never_stand_without_the_words_that_are_signed(paper: str) -> None:
    for lines in range(1, 30):
        pdf = draw_lines(note(lines), FRAME, paper=paper)
        assert_inside_margins(pdf, paper_named(paper))
        (signed,) = [page for page in read_pages(pdf) if "For the gallery" in page]
        assert "Labels on the back stay on." in signed


def test_a_few_lines_too_many_are_printed_smaller_rather_than_on_a_page_of_their_own() -> None:
    pages = [len(read_pages(draw_lines(note(lines), FRAME))) for lines in range(1, 40)]
    roomy = [len(read_pages(draw_lines(note(lines, figure=BLANK), FRAME))) for lines in range(1, 40)]
    assert pages == sorted(pages)
    assert pages.count(1) > roomy.count(1)  # what is written on by hand keeps its size


def grouped(lines: int) -> LinesPaper:
    """So many lines under one heading, then one more under another, and no signatures."""
    tides = [Line(f"Tide {number}", "P0001", ["£1.00"]) for number in range(lines)]
    ended = [Line("Ebb", "", [""], "heading"), *tides, Line("In all", "", ["£9.00"], "sum")]
    return replace(
        note(0),
        lines=[*ended, Line("Flood", "", [""], "heading"), Line("Spring Tide", "", ["£2.00"])],
        signatures=(),
        notes="",
    )


@pytest.mark.parametrize("paper", ["A4", "A5", "A6", "US Letter"])
def test_a_full_page_is_followed_by_none_without_a_line_and_every_page_says_what_its_lines_are(
    paper: str,
) -> None:
    """Whatever the number of lines: a heading, a sum and the total stand beside a line, the columns over it."""
    for lines in range(1, 70):
        pdf = draw_lines(grouped(lines), FRAME, paper=paper)
        if lines % 10 == 0:
            assert_inside_margins(pdf, paper_named(paper))
        for page in read_pages(pdf):
            assert "Tide" in page
            assert "Piece Price" in page
            assert ("Ebb" in page) == ("P0001" in page)
            assert ("Flood" in page) == ("Spring Tide" in page)


def test_a_day_and_a_name_are_written_on_lines_of_their_own() -> None:
    written = replace(note(1), facts=[("Day", BLANK), ("By", BLANK)])
    typed = replace(written, facts=[("Day", "9 June"), ("By", "Wenda")])
    assert BLANK not in " ".join(read_pages(draw_lines(written, FRAME)))
    assert lowest_ink(draw_lines(written, FRAME)) > lowest_ink(
        draw_lines(typed, FRAME)
    )  # points: a hand needs more room than type


def lowest_ink(pdf: bytes) -> float:
    """How far down the page goes what stands on it, the number of the page at its foot left out."""
    (page,) = page_images(pdf)
    box = inked_box(page.crop((0, 0, page.width, page.height - 70)))
    assert box is not None
    return box[3]


@pytest.mark.parametrize("paper", ["A4", "A5", "US Letter"])
def test_a_title_of_200_characters_stands_among_the_facts_whole(paper: str) -> None:
    title = ("Harbour light at the end of the long quay, after rain; " * 4)[:200].strip()
    pdf = draw_lines(replace(note(1), facts=[("Title", title), ("Year", "2026")]), FRAME, paper=paper)
    assert_inside_margins(pdf, paper_named(paper))
    assert f"Title {title} Year 2026" in read_pages(pdf)[0]
