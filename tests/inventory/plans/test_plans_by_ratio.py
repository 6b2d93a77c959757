"""A plan made with one ratio: ten boards in three colours with each of four media, and rows copied or added."""

from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from inventory.materials.models import Kind, Material
from inventory.plans.models import Plan
from inventory.recipes.models import Recipe
from studio.accounts.models import User
from studio.pages.forms import new_key
from tests.inventory.browsing import as_user
from tests.inventory.recipe_stories import make_ratio
from tests.making import make_material, make_surface, make_water, the_technique

pytestmark = pytest.mark.django_db

NEW = "inventory:plan-new"


@pytest.fixture
def board(db: None) -> Material:
    return make_surface(name="Board")


def materials(kind: Kind, *names: str) -> list[Material]:
    return [make_material(name=name, kind=kind) for name in names]


def sent(**more: Any) -> dict[str, Any]:
    head = {"key": new_key(), "name": "Lamps", "planned_on": timezone.localdate().isoformat()}
    return {**head, "lines-TOTAL_FORMS": 1, "lines-INITIAL_FORMS": 0, "lines-0-count": 1, **more}


def by_ratio(board: Material, paints: list[Material], media: list[Material], **more: Any) -> dict[str, Any]:
    """What the page sends when the paints and media are ticked and the button below them is pressed."""
    ticked = {f"ratio-paint_{paint.pk}": "on" for paint in paints}
    ticked |= {f"ratio-medium_{medium.pk}": "on" for medium in media}
    where = {"ratio-surface": board.pk, "ratio-count": 10, "ratio-technique": the_technique().pk}
    return sent(**{**ticked, **where, "do": "by-ratio", "ratio-written": "1 : 2 : ½", **more})


def typed(response: Any) -> dict[str, Any]:
    """What the browser would send from the page that came back."""
    lines, form = response.context["formset"], response.context["form"]
    fields = [field for each in (form, *lines.forms, lines.management_form) for field in each]
    return {field.html_name: field.value() for field in fields if field.value() not in (None, False)}


def test_ten_boards_in_three_colours_with_each_of_four_media_are_made_with_one_ratio(
    helper: User, board: Material
) -> None:
    make_water()
    paints = materials(Kind.PAINT, "Red", "Blue", "White")
    media = materials(Kind.MEDIUM, "A", "B", "C", "D")
    client = as_user(helper)
    weights = {f"ratio-parts_{paints[2].pk}": "2"}
    page = client.post(reverse(NEW), by_ratio(board, paints, media, **weights))
    assert (page.status_code, Plan.objects.count()) == (200, 0)
    client.post(reverse(NEW), typed(page))
    lines = list(Plan.objects.get().lines.all())
    assert [(line.count, line.arm) for line in lines] == [(10, "A"), (10, "B"), (10, "C"), (10, "D")]
    colours = [(colour.material.recipe.name, colour.share) for colour in lines[1].colours.all()]
    assert sorted(colours) == [
        ("Blue + B, 1 : 2 : ½", 1000),
        ("Red + B, 1 : 2 : ½", 1000),
        ("White + B, 1 : 2 : ½", 2000),
    ]
    assert Recipe.objects.filter(by_ratio=True).count() == 12


def test_the_block_stays_open_with_its_ratio_and_media_and_asks_for_nothing_by_itself(
    owner: User, board: Material
) -> None:
    make_water()
    paints = materials(Kind.PAINT, "Red", "Blue")
    media, client = materials(Kind.MEDIUM, "A", "B"), as_user(owner)
    page = client.post(reverse(NEW), by_ratio(board, paints[:1], media))
    again = page.context["by_ratio"]
    assert again.is_open
    assert (again["written"].value(), again["surface"].value()) == ("1 : 2 : ½", str(board.pk))
    assert [bool(again[f"medium_{each.pk}"].value()) for each in media] == [True, True]
    assert not again[f"paint_{paints[0].pk}"].value()
    kept = {field.html_name: field.value() for field in again if field.value() not in (None, False)}
    assert client.post(reverse(NEW), typed(page) | kept).status_code == 302
    assert Plan.objects.get().lines.count() == 2
    more = typed(page) | kept | {f"ratio-paint_{paints[1].pk}": "on", "do": "by-ratio"}
    assert len(client.post(reverse(NEW), more).context["formset"].forms) == 4


def test_a_kept_ratio_is_chosen_and_rows_that_were_begun_stay(owner: User, board: Material) -> None:
    make_water()
    ratio, [red], [thin] = make_ratio(), materials(Kind.PAINT, "Red"), materials(Kind.MEDIUM, "Thin")
    begun = {
        "lines-0-surface": board.pk,
        "lines-0-technique": the_technique("Dutch pour").pk,
        "lines-0-colour_1": red.pk,
    }
    chosen = {"ratio-written": "", "ratio-ratio": ratio.pk}
    page = as_user(owner).post(reverse(NEW), by_ratio(board, [red], [thin], **begun, **chosen))
    first, second = page.context["formset"].forms
    assert (first["colour_1"].value(), second["arm"].value()) == (str(red.pk), "")
    assert second["colour_1"].value() == str(Recipe.objects.get().makes_id)


def test_ticked_paints_are_not_passed_over_when_the_plan_is_saved_at_once(
    owner: User, board: Material
) -> None:
    [red], [thin] = materials(Kind.PAINT, "Red"), materials(Kind.MEDIUM, "Thin")
    page = as_user(owner).post(
        reverse(NEW), by_ratio(board, [red], [thin], **{"do": "", "ratio-written": "1 : 2"})
    )
    assert (Plan.objects.count(), len(page.context["formset"].forms)) == (0, 1)
    assert page.context["formset"].forms[0]["surface"].value() == str(board.pk)


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"ratio-written": "one to two"}, "written"),
        ({"ratio-written": ""}, "ratio"),
        ({"ratio-surface": ""}, "surface"),
        ({"ratio-count": "0"}, "count"),
        ({"ratio-written": "1 : 2 + 3 drops"}, "additive"),
        ({"ratio-written": "1 : 0 : 1"}, "__all__"),  # a medium is ticked, and the ratio takes none
    ],
)
def test_what_is_wrong_with_it_stands_in_the_block_and_the_page_keeps_everything(
    owner: User, board: Material, change: dict[str, str], field: str
) -> None:
    [red], [thin] = materials(Kind.PAINT, "Red"), materials(Kind.MEDIUM, "Thin")
    page = as_user(owner).post(
        reverse(NEW), by_ratio(board, [red], [thin], **{"ratio-written": "1 : 2", **change})
    )
    form = page.context["by_ratio"]
    assert (set(form.errors), form[f"paint_{red.pk}"].value()) == ({field}, True)
    assert page.context["form"]["name"].value() == "Lamps"
    assert not page.context["form"].errors
    assert not Recipe.objects.exists()


@pytest.mark.parametrize(("button", "count"), [("copy-lines", "4"), ("more-lines", None)])
def test_without_a_script_a_row_is_added_or_the_last_one_copied(
    owner: User, board: Material, button: str, count: str | None
) -> None:
    typed_in = {"lines-0-count": "4", "lines-0-surface": board.pk, "do": button}
    page = as_user(owner).post(reverse(NEW), sent(**typed_in))
    _first, added = page.context["formset"].forms
    assert added["count"].value() == (count or "1")
    assert not page.context["formset"].errors[1]


def test_the_page_reads_the_same_few_queries_however_many_mixes_came_of_ratios(
    owner: User, board: Material
) -> None:
    client = as_user(owner)
    make_water()

    def queries(number: int) -> int:
        paints = materials(Kind.PAINT, *(f"{number} {name}" for name in "abc"))
        media = materials(Kind.MEDIUM, *(f"{number} {name}" for name in "de"))
        client.post(reverse(NEW), by_ratio(board, paints, media))
        with CaptureQueriesContext(connection) as read:
            assert client.get(reverse(NEW)).status_code == 200
        return len(read)

    assert queries(1) == queries(2)
