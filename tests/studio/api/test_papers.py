"""Papers for programs: the same PDF as the page's, for the same people."""

import pytest
from django.urls import reverse

from costing.pieces.calculations import State
from studio.accounts.models import User
from studio.api.papers import _printables
from tests.costing.pages import as_user
from tests.costing.selling.test_receipts import a_sale
from tests.costing.stories import a_piece
from tests.making import make_helper, make_lot
from tests.programs import Program
from tests.studio.papers.test_paper import page_images, read_pages

pytestmark = pytest.mark.django_db


def test_a_program_prints_what_the_page_prints(owner: User) -> None:
    sale, program = a_sale(), Program(owner)
    answer = program.get(f"papers/receipt/{sale.pk}/", paper="A5", grey="1")
    page = as_user(owner).get(reverse("costing:sale-receipt", args=[sale.pk]), {"paper": "A5", "grey": "1"})
    assert answer.headers["Content-Type"] == "application/pdf"
    assert read_pages(answer.content) == read_pages(page.content)


def test_every_paper_is_named_with_its_options(owner: User) -> None:
    rows = {row["name"]: row for row in Program(owner).read("papers/")}
    assert rows.keys() == _printables.keys()
    assert rows["receipt"]["options"] == ["paper", "grey"]
    assert {"price-list", "price-labels", "year-end", "certificate", "order", "mixing-sheet"} <= rows.keys()


def test_lists_and_labels_take_the_options_of_their_page(owner: User) -> None:
    a_piece(title="Ebb", state=State.FOR_SALE, price="45.00")
    program = Program(owner)
    usual = {"order": "title", "on": "2026-03-14", "start": "1", "paper": "A4"}
    for name in ("price-list", "price-labels"):
        assert "Ebb" in " ".join(read_pages(program.get(f"papers/{name}/", **usual).getvalue()))
    assert program.get("papers/year-end/", first="2025-01-01", last="2025-12-31").status_code == 200


def test_a_list_asked_for_with_one_option_is_otherwise_the_studios_own(owner: User) -> None:
    a_piece(title="Ebb", state=State.FOR_SALE, price="45.00")
    width, height = page_images(Program(owner).get("papers/price-list/", paper="Letter").getvalue())[0].size
    assert (width, height) == (612, 792)  # US Letter in points, from memory


def test_labels_are_printed_for_as_many_lots_as_are_named(owner: User) -> None:
    first, second = make_lot(), make_lot()
    answer = Program(owner).get("papers/jar-labels/", lot=[first.pk, second.pk])
    words = " ".join(read_pages(answer.content))
    assert first.label in words
    assert second.label in words


@pytest.mark.parametrize(
    ("path", "query", "status"),
    [
        ("papers/napkin/", {}, 404),
        ("papers/receipt/", {}, 404),
        ("papers/receipt/999/", {}, 404),
        ("papers/price-list/1/", {}, 404),
        ("papers/shopping-list/", {"paper": "napkin"}, 400),
        ("papers/shopping-list/", {"colour": "red"}, 400),
    ],
)
def test_what_cannot_be_printed_is_refused(
    owner: User, path: str, query: dict[str, str], status: int
) -> None:
    assert Program(owner).get(path, **query).status_code == status


def test_who_may_not_see_the_page_may_not_have_its_paper() -> None:
    assert Program(make_helper(may_see_money=False)).get("papers/year-end/").status_code == 403
