"""The shopping list on paper, over several pages."""

from inventory.shopping.papers import PaperLine, PaperPart, draw_shopping_list
from studio.papers.frame import PageFrame
from tests.studio.papers.test_paper import read_pages

FRAME = PageFrame("Wrackline Studio", "Shopping list")


def test_a_supplier_is_named_again_where_the_list_goes_on_on_another_page() -> None:
    for count in range(1, 40):  # exactly full pages among them
        lines = [PaperLine("1 × 1 L", f"Paint {number}", price="£9.00") for number in range(count)]
        part = PaperPart("Limpet Quay Colours", lines, sums=[("Total", "£99.00")])
        pages = read_pages(draw_shopping_list([part], FRAME))
        assert sum(page.count("Paint") for page in pages) == count
        assert all("Limpet Quay Colours" in page for page in pages)
        assert "Total £99.00" in pages[-1]
