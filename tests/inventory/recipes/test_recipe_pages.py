"""Recipe pages: the list, one with its versions side by side, writing one, writing a new version."""

from datetime import timedelta

import pytest
from django.test import Client
from django.urls import reverse

from inventory.recipes.models import Recipe, RecipeVersion
from inventory.recipes.queries import cost_per_100ml, costs_per_100ml
from inventory.recipes.views.recipes import shown_parts
from studio.accounts.models import User
from studio.preferences.formatting import Formatter
from studio.preferences.models import Studio
from tests.days import AT
from tests.inventory.browsing import as_user, queries, text_of
from tests.inventory.recipe_stories import loft_medium, page_of, sent
from tests.making import make_batch, make_lot, make_material, make_recipe, make_water, money, take_back, units

pytestmark = pytest.mark.django_db
RECIPES = "inventory:recipes"


# The list


def test_it_lists_proportions_cost_and_what_it_goes_into(owner: User) -> None:
    medium = loft_medium()
    make_recipe(parts=[(medium.recipe.makes, 1)], name="Tide Blue")
    make_batch(version=medium, quantity=units(300))
    response = as_user(owner).get(reverse(RECIPES))
    words = text_of(response)
    # Two thirds of 100 mL at £6 a litre: 40 pence.
    assert (
        "Loft medium Glue 2 parts Tap water 1 part 100 mL costs £0.40 In stock 300 mL Used in Tide Blue"
        in words
    )
    assert 'fill="#d9eaeb"' in response.content.decode()


def test_a_cost_that_is_not_known_is_not_guessed(owner: User) -> None:
    make_recipe(parts=[(make_material(), 1)])
    assert "100 mL costs not known yet" in text_of(as_user(owner).get(reverse(RECIPES)))


def test_a_helper_sees_proportions_and_no_money(helper: User) -> None:
    medium = loft_medium()
    make_batch(version=medium, quantity=units(300))
    for address in (reverse(RECIPES), page_of(medium.recipe)):
        words = text_of(as_user(helper).get(address))
        assert "2 parts" in words
        assert "£" not in words
        assert "costs" not in words


def test_it_finds_by_name_and_by_part(owner: User) -> None:
    medium, other = loft_medium(), make_recipe(parts=[(make_material(name="Rust"), 1)], name="Buoy")

    def found(words: str, **asked: str) -> list[Recipe]:
        rows = as_user(owner).get(reverse(RECIPES), {"search": words} | asked).context["table"].rows
        return [row.recipe for row in rows]

    assert found("") == [other.recipe, medium.recipe]
    assert found("GLUE loft") == [medium.recipe]
    assert found("buoy") == [other.recipe]
    assert found("nothing like it") == []
    Recipe.objects.filter(pk=other.recipe_id).update(is_archived=True)
    assert found("") == [medium.recipe]
    assert found("", archived="true") == [other.recipe, medium.recipe]


def test_an_empty_list_teaches(owner: User, bookkeeper: User) -> None:
    assert "Add a recipe" in text_of(as_user(owner).get(reverse(RECIPES)))
    assert "Add a recipe" not in text_of(as_user(bookkeeper).get(reverse(RECIPES)))


def test_the_list_asks_as_many_queries_for_few_as_for_many(owner: User) -> None:
    base = loft_medium().recipe.makes

    def more(count: int) -> None:
        for _ in range(count):
            make_recipe(parts=[(make_lot().material, 1), (base, 2)])

    more(3)
    few = queries(as_user(owner), reverse(RECIPES))
    more(15)
    assert queries(as_user(owner), reverse(RECIPES)) == few


def test_more_parts_than_patterns_go_together(owner: User) -> None:
    version = make_recipe(parts=[(make_material(name=f"Part {number}"), 1) for number in range(8)])
    formatter = shown_parts(version, Formatter.of(Studio.current()))
    assert len(formatter) == 6
    assert formatter[-1].label == "Part 5, Part 6, Part 7"
    assert formatter[-1].text == "3 parts"
    assert sum(part.percent for part in formatter) == 100


# One recipe


def test_it_sets_versions_side_by_side(owner: User) -> None:
    version = loft_medium()
    make_batch(version=version, quantity=units(300))
    glue, water = (part.material for part in version.parts.all())
    as_user(owner).post(page_of(version.recipe, "recipe-version"), sent((glue, "2.5"), (water, "1")))
    words = text_of(as_user(owner).get(page_of(version.recipe)))
    assert "Version 2 (now) Version 1" in words
    assert "Glue 2.5 parts 2 parts" in words
    assert "Added water 28.6% 33.3%" in words
    assert "Mixes 0 1" in words
    assert "A version that has been used in a mix never changes" in words


def test_it_shows_each_mix_with_what_it_cost_then(owner: User) -> None:
    version = loft_medium()
    first = make_batch(version=version, quantity=units(300))
    make_lot(material=version.parts.all()[0].material, cost=money(12))
    later = AT + timedelta(days=1)
    make_batch(version=version, quantity=units(1200), on=later.date(), at=later)
    words = text_of(as_user(owner).get(page_of(version.recipe)))
    assert (
        f"10 Jun 2025 , ledger no. {first.posting_id} {first.lot.label} 1 Stock 300 mL £1.20 £0.40 per 100 mL"
        in words
    )
    # 800 mL of glue still at £6 a litre, and none yet of the dearer litre: £4.80 for 1,200 mL of mix.
    assert "1.2 L £4.80 £0.40 per 100 mL" in words
    assert "Unit cost of each mix" in words


def test_a_mix_reversed_is_marked_and_left_out_of_the_bars(owner: User) -> None:
    version = loft_medium()
    take_back(make_batch(version=version, quantity=units(300)).posting)
    make_batch(version=version, quantity=units(300))
    words = text_of(as_user(owner).get(page_of(version.recipe)))
    assert "Reversed" in words
    assert "Unit cost of each mix" not in words


def test_it_leads_to_mixing_and_planning(owner: User) -> None:
    version = loft_medium()
    content = as_user(owner).get(page_of(version.recipe)).content.decode()
    assert f"{reverse('inventory:mix-new')}?recipe={version.recipe_id}" in content
    assert f"{reverse('inventory:stock-check')}?colour_1={version.recipe.makes_id}" in content


def test_too_much_water_is_said(owner: User) -> None:
    version = make_recipe(parts=[(make_material(), 1), (make_water(), 2)])
    for address in (reverse(RECIPES), page_of(version.recipe)):
        assert "Too much water" in text_of(as_user(owner).get(address))


def test_a_recipe_asks_as_many_queries_for_few_mixes_as_for_many(owner: User) -> None:
    few_mixes = loft_medium()
    many_mixes = make_recipe(parts=[(few_mixes.parts.all()[0].material, 1)])
    for version, times in ((few_mixes, 3), (many_mixes, 15)):
        for _ in range(times):
            make_batch(version=version, quantity=units(10))
    few = queries(as_user(owner), page_of(few_mixes.recipe))
    assert queries(as_user(owner), page_of(many_mixes.recipe)) == few


def test_an_old_version_that_would_go_round_in_a_circle_today_has_no_cost(owner: User) -> None:
    paint = make_lot().material
    first = make_recipe(parts=[(paint, 1)])
    second = make_recipe(parts=[(first.recipe.makes, 1)])
    old = make_recipe(parts=[(paint, 1)])
    old.parts.update(material=second.recipe.makes)
    RecipeVersion.objects.filter(pk=old.pk).update(recipe=first.recipe, number=3)
    RecipeVersion.objects.filter(pk=first.pk).update(number=4)
    old = RecipeVersion.objects.get(pk=old.pk)
    assert costs_per_100ml([old]) == {old.pk: None}
    assert as_user(owner).get(page_of(first.recipe)).status_code == 200


def test_costs_of_many_are_the_costs_of_each() -> None:
    versions = [loft_medium(), make_recipe(parts=[(make_material(), 1)])]
    assert costs_per_100ml(versions) == {version.pk: cost_per_100ml(version) for version in versions}
    # 66.667 mL of glue at £6 a litre.
    assert costs_per_100ml(versions) == {versions[0].pk: money("0.400002"), versions[1].pk: None}


# Who may


def test_a_bookkeeper_reads_and_may_write_nothing(bookkeeper: User) -> None:
    version = loft_medium()
    words = text_of(as_user(bookkeeper).get(page_of(version.recipe)))
    assert "£0.40" in words
    assert "Mix a batch" not in words
    assert "Add a new version" not in words
    for address in (reverse("inventory:recipe-new"), page_of(version.recipe, "recipe-version")):
        assert as_user(bookkeeper).get(address).status_code == 403
        assert as_user(bookkeeper).post(address, sent()).status_code == 403


def test_strangers_are_sent_to_the_door(client: Client, stranger: User) -> None:
    client.force_login(stranger)
    recipe = loft_medium().recipe
    addresses = [reverse(RECIPES), reverse("inventory:recipe-new")]
    for address in [*addresses, page_of(recipe), page_of(recipe, "recipe-version")]:
        assert reverse("login") in client.get(address)["Location"]


def test_hostile_names_are_written_out_harmlessly(owner: User) -> None:
    name = "<script>alert(1)</script>"
    made = make_material(name=f"{name}m", colour='"><q')
    version = make_recipe(parts=[(make_material(name=f"{name}p"), 1)], makes=made, name=name, notes="<b>")
    RecipeVersion.objects.update(notes="<i>Thin")
    addresses = [reverse(RECIPES), page_of(version.recipe), page_of(version.recipe, "recipe-version")]
    for address in addresses:
        content = as_user(owner).get(address).content.decode()
        assert "<script>alert" not in content
        assert '"><q' not in content
        assert "<i>Thin" not in content
