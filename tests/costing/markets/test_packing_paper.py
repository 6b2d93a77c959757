"""The packing list on paper."""

from costing.markets.papers import PackingBox, PackingLine, draw_packing_list
from studio.papers.frame import PageFrame
from tests.studio.papers.test_paper import read_pages

FRAME = PageFrame("Wrackline Studio", "Packing list")
MARKS = "First mark: packed."


def test_an_empty_list_says_what_to_do_and_explains_no_marks() -> None:
    (page,) = read_pages(draw_packing_list([], FRAME))
    assert "Nothing packed yet" in page
    assert "print this list again" in page
    assert MARKS not in page
    box = PackingBox("Market box, left", [PackingLine("P0001", "Ebb", "£45.00")])
    assert MARKS in read_pages(draw_packing_list([box], FRAME))[0]


def test_a_box_is_named_again_where_its_pieces_go_on_on_another_page() -> None:
    for count in range(1, 60):  # exactly full pages among them
        pieces = [PackingLine(f"P{number:04}", "Ebb") for number in range(count)]
        pages = read_pages(draw_packing_list([PackingBox("Market box, left", pieces)], FRAME))
        assert sum(page.count("Ebb") for page in pages) == count
        assert all("Market box, left" in page and "Ebb" in page for page in pages)
