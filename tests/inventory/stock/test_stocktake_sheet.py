"""The sheet to count with: which shelf is on it, what is expected, and the pages that lead to it."""

from typing import Any

import pytest
from django.urls import reverse

from studio.accounts.models import User
from tests.inventory.browsing import as_user, queries, text_of
from tests.inventory.stock.test_stocktake_pages import NEW, lot_in
from tests.making import make_material
from tests.studio.papers.test_paper import read_pages
from tests.two_tabs import FormsOfPage

pytestmark = pytest.mark.django_db
SHEET = "inventory:stocktake-sheet"


def words_on(answer: Any) -> str:
    assert answer.headers["Content-Type"] == "application/pdf"
    return " ".join(read_pages(answer.content))


def test_it_lists_the_lots_of_the_shelf_and_hides_what_is_expected(helper: User) -> None:
    lot_in("Window", material=make_material(name="Sail Loft White"))
    lot_in("Cellar", material=make_material(name="Harbour Blue"))
    client = as_user(helper)
    words = words_on(client.get(reverse(SHEET), {"place": "Window", "paper": "A5"}))
    assert "Sail Loft White" in words
    assert "Window" in words
    assert "Harbour Blue" not in words
    assert "1,000 mL" not in words
    asked = words_on(client.get(reverse(SHEET), {"place": "Window", "expected": "1"}))
    assert "Expected" in asked
    assert "1,000 mL" in asked


@pytest.mark.parametrize("asked", ["place=Window", "kind=paint", "all=1", "code=L"])
def test_the_form_on_the_page_prints_the_shelf_of_that_page(owner: User, asked: str) -> None:
    lot = lot_in("Window", material=make_material(name="Sail Loft White"))
    page = f"{reverse(NEW)}?{asked.replace('code=L', f'code={lot.label}')}"
    client = as_user(owner)
    html = client.get(page).content.decode()
    (form,) = [form for form in FormsOfPage(page, html).forms if form.path == reverse(SHEET)]
    assert "Sail Loft White" in words_on(client.get(form.path, form.fields))


@pytest.mark.parametrize("asked", [{}, {"all": "1", "paper": "B9"}], ids=["no shelf", "no such paper"])
def test_without_a_shelf_or_a_paper_it_leads_back_to_choosing(owner: User, asked: dict[str, str]) -> None:
    lot_in("Window")
    answer = as_user(owner).get(reverse(SHEET), asked)
    assert (answer.status_code, answer["Location"]) == (302, reverse(NEW))


def test_it_asks_no_more_queries_for_more_lots(owner: User) -> None:
    lot_in("Window")
    client, page = as_user(owner), f"{reverse(NEW)}?all=1"
    few = queries(client, page), queries(client, f"{reverse(SHEET)}?all=1")
    for _number in range(6):
        lot_in("Window", material=make_material())
    assert (queries(client, page), queries(client, f"{reverse(SHEET)}?all=1")) == few
    assert "Stocktake sheet (PDF)" in text_of(client.get(page))
