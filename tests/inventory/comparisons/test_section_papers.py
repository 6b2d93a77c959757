"""Papers of sections: amounts end at the right, and a table that goes on names its columns again."""

from dataclasses import replace

import pypdfium2
import pytest

from inventory.comparisons.papers import Section, draw_sections
from studio.papers.frame import PageFrame, paper_named
from tests.studio.papers.test_paper import assert_inside_margins, page_images, read_pages

FRAME = PageFrame("Wrackline Studio", "White first or white last")


@pytest.mark.parametrize("paper", ["A4", "A5"])
def test_a_table_names_its_columns_on_every_page(paper: str) -> None:
    table = [("", "White first"), *[(f"Criterion {number}", "7.5") for number in range(90)]]
    pdf = draw_sections([Section("What the scores show", table=table)], FRAME, paper=paper)
    pages = read_pages(pdf)
    assert len(pages) > 1
    assert ["White first" in page.replace(FRAME.title, "") for page in pages] == [True] * len(pages)
    assert all("What the scores show" in page for page in pages)
    assert_inside_margins(pdf, paper_named(paper))


def test_amounts_end_under_one_another_at_the_right() -> None:
    table = [("Result", "Amount"), ("Sales", "£1,234.50"), ("Loss", "−£9.00")]
    section = Section("Did it pay?", table=table, widths=(0.7, 0.3), has_amounts=True)
    paper = paper_named("A4")
    with pypdfium2.PdfDocument(draw_sections([section], FRAME)) as pdf:
        text = pdf[0].get_textpage()
        rights = [text.get_rect(place)[2] for place in range(text.count_rects())]
    assert sum(abs(right - (paper.width - paper.margin)) < 2 for right in rights) >= 3


def test_a_row_that_adds_up_others_stands_out() -> None:
    table = [("Result", "Amount"), ("Sales", "£4.50"), ("Profit", "£4.50")]
    section = Section("Did it pay?", table=table, has_amounts=True)
    plain, marked = (
        inked(draw_sections([each], FRAME)) for each in (section, replace(section, sums=["Profit"]))
    )
    assert marked > plain


def inked(pdf: bytes) -> int:
    """How much ink is on the first page, in steps of grey."""
    grey = page_images(pdf)[0].histogram()
    return sum(count * (255 - shade) for shade, count in enumerate(grey))
