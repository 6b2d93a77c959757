"""A mix by itself: posted with its parts, measured on one scale, and refused beyond the shelf."""

import pytest
from django.test import Client
from django.urls import reverse

from inventory.recipes.models import Mix, Recipe
from tests.inventory.browsing import KEY, text_of
from tests.inventory.session_bench import Bench, value_of
from tests.making import held, make_material, make_water, money, units

pytestmark = pytest.mark.django_db


@pytest.fixture
def bench(db: None) -> Bench:
    return Bench()


def test_a_batch_is_posted_with_its_parts_and_leads_to_its_lot(signed: Client, bench: Bench) -> None:
    version = bench.recipes[0]
    data = {
        "key": KEY,
        "mixed_on": "2025-06-10",
        "cup-contents": f"r{version.recipe_id}",
        "cup-wanted": "800 ml",
        "cup-place": "Window shelf",
        "cup-use_by": "2025-07-10",
    }
    response = signed.post(reverse("inventory:mix-new"), data)
    mix = Mix.objects.get()
    assert response["Location"] == reverse("inventory:lot", args=[mix.lot_id])
    assert held(mix.lot) == (units(800), money(4))
    assert (mix.lot.place, str(mix.lot.best_before)) == ("Window shelf", "2025-07-10")


def test_the_batch_page_shows_the_running_totals_of_one_scale(signed: Client, bench: Bench) -> None:
    query: dict[str, str | int] = {"recipe": bench.recipes[0].recipe_id, "wanted": "400 ml"}
    words = text_of(signed.get(reverse("inventory:mix-new"), query))
    assert "scale shows 112 g" in words
    assert "scale shows 424 g" in words


def test_the_total_of_a_batch_follows_its_parts(signed: Client, bench: Bench) -> None:
    version = bench.recipes[0]
    typed = {
        "key": KEY,
        "do": "parts",
        "mixed_on": "2025-06-10",
        "cup-contents": f"r{version.recipe_id}",
        "cup-wanted": "400 ml",
        "cup-planned_for": f"{version.pk}:{units(400)}",
        f"cup-amount_{bench.white.pk}": "2 parts",
    }
    for _again in range(2):
        page = signed.post(reverse("inventory:mix-new"), typed)
        assert value_of(page, "cup-wanted") == "500 mL"
        assert value_of(page, f"cup-amount_{bench.white.pk}") == "200 mL"
        typed |= {f"cup-{name}": value_of(page, f"cup-{name}") for name in ("wanted", "planned_for")}


def test_a_batch_beyond_the_shelf_is_refused_until_confirmed(signed: Client, bench: Bench) -> None:
    data = {
        "key": KEY,
        "mixed_on": "2025-06-10",
        "cup-contents": f"r{bench.recipes[1].recipe_id}",
        "cup-wanted": "4 l",
    }
    response = signed.post(reverse("inventory:mix-new"), data)
    assert response.status_code == 422
    assert "500 mL short" in text_of(response)
    assert not Mix.objects.exists()
    assert signed.post(reverse("inventory:mix-new"), data | {"confirm_gain": "on"}).status_code == 302


def test_a_batch_needs_a_recipe_and_an_amount(signed: Client, bench: Bench) -> None:
    response = signed.post(reverse("inventory:mix-new"), {"key": KEY, "mixed_on": "2025-06-10"})
    assert response.status_code == 422
    assert "Choose a recipe" in text_of(response)


def by_ratio(bench: Bench, **change: str) -> dict[str, str]:
    """A batch by a ratio, as it is sent: its first paint, in no medium."""
    data = {"key": KEY, "mixed_on": "2025-06-10", "cup-wanted": "300 ml", "ratio-written": "1 : 0 : ½"}
    paint = bench.recipes[1].parts.get(line=1).material
    return data | {f"ratio-paint_{paint.pk}": "on", "ratio-basis": "volume"} | change


def test_a_batch_is_mixed_by_a_ratio_of_one_paint(signed: Client, bench: Bench) -> None:
    make_water(name="Rain butt")
    shown = signed.post(reverse("inventory:mix-new"), by_ratio(bench) | {"do": "by-ratio"})
    recipe = Recipe.objects.get(by_ratio=True)
    assert shown.context["cup"]["contents"].value() == f"r{recipe.pk}"
    assert not Mix.objects.exists(), "its parts are looked at first"
    data = {"key": KEY, "mixed_on": "2025-06-10", "cup-contents": f"r{recipe.pk}", "cup-wanted": "300 ml"}
    assert signed.post(reverse("inventory:mix-new"), data).status_code == 302
    assert Mix.objects.get().version.recipe == recipe


def test_paints_that_are_ticked_are_not_passed_over_when_the_batch_is_saved(
    signed: Client, bench: Bench
) -> None:
    make_water(name="Rain butt")
    assert signed.post(reverse("inventory:mix-new"), by_ratio(bench)).status_code == 200
    assert Recipe.objects.filter(by_ratio=True).exists()
    assert not Mix.objects.exists()


def test_a_batch_by_a_ratio_is_one_mix(signed: Client, bench: Bench) -> None:
    other = make_material(name="Ebb Grey")
    sent = by_ratio(bench) | {f"ratio-paint_{other.pk}": "on", "do": "by-ratio"}
    assert "Tick one paint and one medium" in text_of(signed.post(reverse("inventory:mix-new"), sent))
    assert not Recipe.objects.filter(by_ratio=True).exists()


def test_without_a_recipe_the_batch_page_teaches_to_write_one(signed: Client) -> None:
    assert "There is no recipe yet" in text_of(signed.get(reverse("inventory:mix-new")))
