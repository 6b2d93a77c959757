"""Labels for jars: what they say, which lots are offered, and the code that is read back."""

import pypdfium2
import pytest
import zxingcpp

from inventory.ledger.models import Lot, LotOrigin
from inventory.materials.models import SignalWord
from inventory.stock.jar_labels import JarLabel, draw_jar_labels
from studio.accounts.models import User
from studio.papers.labels import GRIDS
from tests.inventory.browsing import as_user, text_of
from tests.making import make_lot, make_material
from tests.studio.papers.test_paper import inked_box, page_images, read_pages

ADDRESS = "/stock/labels/"


def words_of(content: bytes) -> str:
    with pypdfium2.PdfDocument(content) as pdf:
        return " ".join(page.get_textpage().get_text_range() for page in pdf)


@pytest.mark.django_db
def test_what_was_mixed_or_decanted_is_offered_and_what_was_bought_when_asked_for(helper: User) -> None:
    bought = make_lot(
        material=make_material(name="Harbour Blue", signal_word=SignalWord.WARNING, hazards="H317 Allergic.")
    )
    mixed = make_lot()
    Lot.objects.filter(pk=mixed.pk).update(origin=LotOrigin.MIX)
    client = as_user(helper)
    listed = [lot.pk for lot, _is_chosen in client.get(ADDRESS).context["lots"]]
    assert listed == [mixed.pk]
    every = client.get(ADDRESS, {"paper": "A4", "start": "1", "bought": "on"}).context["lots"]
    assert bought.pk in [lot.pk for lot, _is_chosen in every]
    assert [
        lot.pk for lot, is_chosen in client.get(ADDRESS, {"lot": str(bought.pk)}).context["lots"] if is_chosen
    ] == [bought.pk]


@pytest.mark.django_db
def test_a_label_says_what_is_in_the_jar_since_when_and_what_is_dangerous_about_it(owner: User) -> None:
    lot = make_lot(
        material=make_material(
            name="Harbour Blue", signal_word=SignalWord.WARNING, hazards="H317 May cause an allergy."
        )
    )
    asked = {"paper": "A4", "start": "3", "copies": "2", "lot": str(lot.pk), "print": "1"}
    answer = as_user(owner).get(ADDRESS, asked)
    words = words_of(answer.content)
    for text in ("Harbour Blue", lot.label, "Warning", "H317 May cause an allergy."):
        assert words.count(text) == 2
    assert "£" not in words


@pytest.mark.django_db
def test_nothing_chosen_or_a_place_that_the_sheet_has_not_is_refused_on_the_page(owner: User) -> None:
    lot, client = make_lot(), as_user(owner)
    assert "Choose at least one" in text_of(client.get(ADDRESS, {"paper": "A4", "start": "1", "print": "1"}))
    wrong = client.get(ADDRESS, {"paper": "A4", "start": "22", "lot": str(lot.pk), "print": "1"})
    assert (wrong.status_code, "labels 1 to 21" in text_of(wrong)) == (422, True)


@pytest.mark.parametrize("grid", list(GRIDS))
def test_no_text_reaches_the_edge_and_the_code_is_read_back(grid: str) -> None:
    long = "Slack water at the harbour wall " * 20
    label = JarLabel(long, "L0042", "1 Jun 2025", "Use by 1 Jul 2025", "Danger", long)
    plan = GRIDS[grid]
    (image,) = page_images(draw_jar_labels([label], studio="Wrackline Studio", grid=plan), 4)
    box = plan.box(0)
    inked = inked_box(image)
    assert inked is not None
    left, top, right, bottom = (edge / 4 for edge in inked)
    assert (left > box.left, top > box.top, right < box.right, bottom < box.bottom) == (True,) * 4
    assert [found.text for found in zxingcpp.read_barcodes(image)] == ["L0042"]
    assert "L0042" in read_pages(draw_jar_labels([label], studio="Wrackline Studio", grid=plan))[0]
