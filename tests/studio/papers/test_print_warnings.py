"""What is printed as it was typed, and what a page warns of before it is printed."""

import pytest
from django.urls import reverse

from costing.pieces.models import Piece
from inventory.comparisons.models import Comparison
from inventory.materials.models import Material
from studio.accounts.models import User
from studio.papers.typography import MISSING, printable, unprintable
from tests.costing.pages import as_user, text_of
from tests.small_studio import small_studio
from tests.studio.papers.test_paper import read_pages, sheet_saying

PRINTED = {
    "Turkish": "Gümüş İğne, ışıklı çağlayan",
    "Vietnamese": "Thủy triều lặng ở vịnh nhỏ",
    "Greek": "Η θάλασσα, ἅμπωτις ώρα",
    "Cyrillic": "Тихий прилив, щёки, ґанок, Ђ",
}
NOT_PRINTED = {"Arabic": "بحر هادئ", "Hebrew": "ים שקט", "Chinese": "潮水", "emoji": "🌊🎨"}
WARNING = "cannot be printed and will be question marks on paper: "


@pytest.mark.parametrize("title", PRINTED.values(), ids=list(PRINTED))
def test_a_title_comes_out_of_the_file_as_it_was_typed(title: str) -> None:
    assert read_pages(sheet_saying(title)) == [title]
    assert unprintable(title) == ""


@pytest.mark.parametrize("title", NOT_PRINTED.values(), ids=list(NOT_PRINTED))
def test_a_title_that_cannot_be_printed_is_question_marks_and_every_character_is_named(title: str) -> None:
    signs = title.replace(" ", "")
    assert printable(title).replace(" ", "") == MISSING * len(signs)
    assert read_pages(sheet_saying(title)) == [printable(title)]
    assert set(unprintable(title)) == set(signs)


@pytest.mark.django_db
def test_every_page_that_prints_names_warns_of_those_that_cannot_be_printed(owner: User) -> None:
    studio = small_studio()
    pages = {
        "jar labels": f"{reverse('inventory:jar-labels')}?lot={studio.lot.pk}",
        "mixing sheet": reverse("inventory:plan", args=[studio.plan.pk]),
        "shopping list": reverse("inventory:shopping-list"),
        "stocktake sheet": f"{reverse('inventory:stocktake-new')}?all=1",
        "comparison": reverse("inventory:comparison", args=[studio.comparison.pk]),
        "packing list and market report": reverse("costing:market", args=[studio.market.pk]),
        "certificate": reverse("costing:piece", args=[studio.for_sale.pk]),
    }
    client = as_user(owner)
    assert [name for name, page in pages.items() if WARNING in text_of(client.get(page))] == []
    for model, field in ((Material, "name"), (Piece, "title"), (Comparison, "name")):
        for row in model._default_manager.all():
            model._default_manager.filter(pk=row.pk).update(**{field: f"潮 {row.pk}"})
    assert [name for name, page in pages.items() if WARNING + "潮" not in text_of(client.get(page))] == []
