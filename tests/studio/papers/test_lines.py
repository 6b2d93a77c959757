"""Papers of lines: what stays together, and type made smaller before a page is nearly empty."""

import pytest

from studio.papers.frame import PageFrame, paper_named
from studio.papers.lines import BLANK, Line, LinesPaper, draw_lines
from tests.studio.papers.test_paper import assert_inside_margins, read_pages

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
