"""Writing a recipe, and writing a new version of one."""

from typing import Any

import pytest
from django.urls import reverse

from inventory.materials.models import Kind, Material
from inventory.recipes.models import Recipe
from studio.accounts.models import User
from studio.preferences.models import Studio
from tests.days import TODAY
from tests.inventory.browsing import as_user, text_of
from tests.inventory.recipe_stories import loft_medium, page_of, sent
from tests.making import make_batch, make_material, make_recipe, make_water, units

pytestmark = pytest.mark.django_db


# Writing one


def test_it_writes_a_recipe_and_the_mix_it_makes(helper: User) -> None:
    blue, water = make_material(name="Blue"), make_water()
    response = as_user(helper).post(
        reverse("inventory:recipe-new"),
        sent((blue, "1.5"), (water, "1/2"), colour="#2f5d9b", keeps_days="60", notes="Stir well."),
    )
    recipe = Recipe.objects.get()
    assert response["Location"] == page_of(recipe)
    made = recipe.makes
    assert (made.name, made.kind, made.measure) == ("Tide Blue", Kind.MIX, "volume")
    assert (made.colour, made.keeps_days, recipe.notes) == ("#2f5d9b", 60, "Stir well.")
    parts = [(part.material, part.parts) for part in recipe.versions.get().parts.all()]
    assert parts == [(blue, 1500), (water, 500)]


def test_it_writes_a_recipe_for_a_material_that_is_kept_already(owner: User) -> None:
    made, paint = make_material(name="Old mix", kind=Kind.MIX), make_material()
    as_user(owner).post(reverse("inventory:recipe-new"), sent((paint, "1"), makes=made.pk))
    assert Recipe.objects.get().makes == made


def test_a_mix_may_have_a_name_of_its_own(owner: User) -> None:
    as_user(owner).post(reverse("inventory:recipe-new"), sent((make_material(), "1"), new_name="Deep tide"))
    assert Recipe.objects.get().makes.name == "Deep tide"


def test_a_decimal_comma_is_read_where_the_studio_writes_one(owner: User) -> None:
    Studio.objects.update(locale="de_DE")
    as_user(owner).post(reverse("inventory:recipe-new"), sent((make_material(), "1,5")))
    assert Recipe.objects.get().versions.get().parts.get().parts == 1500


@pytest.mark.parametrize(
    ("said", "parts", "problem"),
    [
        ({"name": ""}, "1", "required"),
        ({"colour": "blue"}, "1", "Enter a colour such as"),
        ({"colour": "url(x)"}, "1", "Enter a colour such as"),
        ({"keeps_days": "0"}, "1", "greater than or equal to 1"),
        ({"basis": "length"}, "1", "valid choice"),
        ({}, "0", "above zero"),
        ({}, "-1", "single number"),
        ({}, "a lot", "single number"),
        ({}, "1.0005", "at most three decimals"),
        ({}, "", "required"),
    ],
)
def test_what_cannot_be_written_is_said_in_place_and_nothing_is_kept(
    owner: User, said: dict[str, str], parts: str, problem: str
) -> None:
    materials = Material.objects.count() + 1
    data = sent((make_material(), parts), notes="Stir well.") | said
    response = as_user(owner).post(reverse("inventory:recipe-new"), data)
    assert response.status_code == 422
    assert problem in text_of(response)
    assert "Stir well." in response.content.decode()
    assert not Recipe.objects.exists()
    assert Material.objects.count() == materials


def test_writers_refusals_stand_on_the_page(owner: User) -> None:
    taken, paint = loft_medium(), make_material()

    def refused(**said: Any) -> str:
        response = as_user(owner).post(reverse("inventory:recipe-new"), sent((paint, "1"), **said))
        assert response.status_code == 422
        return text_of(response)

    assert "Another recipe has this name" in refused(name="Loft medium", new_name="Else")
    assert "already taken" in refused(new_name="Glue")
    assert "not both" in refused(makes=paint.pk, new_name="Something")
    assert "valid choice" in refused(makes=taken.recipe.makes_id)
    twice = as_user(owner).post(reverse("inventory:recipe-new"), sent((paint, "1"), (paint, "2")))
    assert "appears twice in this recipe" in text_of(twice)
    none = as_user(owner).post(reverse("inventory:recipe-new"), sent())
    assert "at least one part" in text_of(none)
    assert Recipe.objects.get() == taken.recipe


# Writing a new version


def test_a_used_version_stays_and_the_change_becomes_a_new_one(helper: User) -> None:
    version = loft_medium()
    make_batch(version=version, quantity=units(300))
    glue, water = (part.material for part in version.parts.all())
    address = page_of(version.recipe, "recipe-version")
    words = text_of(as_user(helper).get(address))
    assert "Version 1 was used in 1 mix, so it cannot be changed. Your changes become version 2." in words
    response = as_user(helper).post(
        address, sent((glue, "3"), (water, "1"), notes="Less runny."), follow=True
    )
    assert "Version 2 of Loft medium saved" in text_of(response)
    assert [v.number for v in version.recipe.versions.order_by("number")] == [1, 2]
    assert [part.parts for part in version.parts.order_by("line")] == [2000, 1000]
    assert version.recipe.versions.get(number=2).notes == "Less runny."


def test_an_unused_version_is_replaced(owner: User) -> None:
    version = loft_medium()
    glue = version.parts.all()[0].material
    address = page_of(version.recipe, "recipe-version")
    assert "replace it" in text_of(as_user(owner).get(address))
    as_user(owner).post(address, sent((glue, "1")))
    latest = version.recipe.versions.get()
    assert (latest.number, latest.parts.get().parts) == (1, 1000)


def test_the_form_starts_from_the_parts_as_they_stand(owner: User) -> None:
    version = loft_medium()
    make_batch(version=version, quantity=units(300))
    content = as_user(owner).get(page_of(version.recipe, "recipe-version")).content.decode()
    glue = version.parts.all()[0].material
    assert f'<option value="{glue.pk}" selected>Glue</option>' in content
    assert 'name="parts-0-parts" value="2"' in content


def test_the_same_parts_again_change_nothing(owner: User) -> None:
    version = loft_medium()
    make_batch(version=version, quantity=units(300))
    glue, water = (part.material for part in version.parts.all())
    response = as_user(owner).post(
        page_of(version.recipe, "recipe-version"), sent((glue, "2"), (water, "1.0")), follow=True
    )
    assert "is unchanged" in text_of(response)
    assert version.recipe.versions.count() == 1


def test_a_removed_row_leaves_its_part_out(owner: User) -> None:
    version = loft_medium()
    glue, water = (part.material for part in version.parts.all())
    data = sent((glue, "2"), (water, "1")) | {"parts-1-DELETE": "on"}
    as_user(owner).post(page_of(version.recipe, "recipe-version"), data)
    assert [part.material for part in version.recipe.versions.get().parts.all()] == [glue]


def test_a_circle_is_named_and_nothing_is_written(owner: User) -> None:
    medium = loft_medium()
    blue = make_recipe(parts=[(medium.recipe.makes, 1)], makes=make_material(name="Tide Blue"))
    response = as_user(owner).post(page_of(medium.recipe, "recipe-version"), sent((blue.recipe.makes, "1")))
    assert response.status_code == 422
    assert "Loft medium needs Tide Blue needs Loft medium" in text_of(response)
    assert medium.recipe.versions.get().parts.count() == 2


def test_an_archived_part_stays_choosable_in_its_own_recipe(owner: User) -> None:
    version = loft_medium()
    glue, water = (part.material for part in version.parts.all())
    Material.objects.filter(pk=glue.pk).update(is_archived=True)
    response = as_user(owner).post(page_of(version.recipe, "recipe-version"), sent((glue, "5"), (water, "1")))
    assert response.status_code == 302


def test_the_day_written_is_today(owner: User) -> None:
    as_user(owner).post(reverse("inventory:recipe-new"), sent((make_material(), "1")))
    assert Recipe.objects.get().versions.get().written_on > TODAY


# Materials that are new


def named_new(number: int, name: str, kind: str = "") -> dict[str, str]:
    return {f"parts-{number}-new_name": name, f"parts-{number}-new_kind": kind}


@pytest.mark.parametrize(("basis", "measure"), [("volume", "volume"), ("mass", "mass")])
def test_a_part_that_is_not_in_the_list_is_added_on_its_row(owner: User, basis: str, measure: str) -> None:
    glue = make_material(name="Glue", kind=Kind.MEDIUM)
    data = sent((None, "2"), (glue, "1"), basis=basis) | named_new(0, "Marram")
    as_user(owner).post(reverse("inventory:recipe-new"), data)
    marram = Material.objects.get(name="Marram")
    assert (marram.kind, marram.measure) == (Kind.PAINT, measure)
    assert [part.material for part in Recipe.objects.get().versions.get().parts.all()] == [marram, glue]


def test_a_new_version_may_add_a_material_too(owner: User) -> None:
    version = loft_medium()
    glue, _water = (part.material for part in version.parts.all())
    data = sent((glue, "2"), (None, "1")) | named_new(1, "Loft extender")
    as_user(owner).post(page_of(version.recipe, "recipe-version"), data)
    extender = Material.objects.get(name="Loft extender")
    assert extender.kind == Kind.MEDIUM
    assert extender in [part.material for part in version.recipe.versions.get().parts.all()]


@pytest.mark.parametrize(
    ("new", "said"),
    [
        (named_new(0, "Marram"), {"name": ""}),
        (named_new(0, "Marram"), {"name": "Loft medium"}),
        (named_new(0, "Tide Blue"), {}),  # what the recipe makes gets this name
        (named_new(0, "Marram", "surface"), {}),
        (named_new(0, "Board 30 x 40 cm"), {}),
        (named_new(0, "Marram") | {"parts-0-parts": ""}, {}),
        (named_new(1, "Marram"), {}),  # beside one that was chosen
    ],
)
def test_a_refused_recipe_keeps_the_new_name_and_adds_nothing(
    owner: User, new: dict[str, str], said: dict[str, str]
) -> None:
    version = loft_medium()
    glue = version.parts.all()[0].material
    known = set(Material.objects.values_list("name", flat=True))
    data = sent((None, "2"), (glue, "1"), **said) | new
    response = as_user(owner).post(reverse("inventory:recipe-new"), data)
    assert response.status_code == 422
    rows = response.context["formset"].forms
    assert next(iter(new.values())) in [row["new_name"].value() for row in rows]
    assert rows[1]["material"].value() == str(glue.pk)
    assert set(Material.objects.values_list("name", flat=True)) == known
    assert Recipe.objects.count() == 1


def test_a_name_that_is_in_the_list_already_means_that_one(owner: User) -> None:
    marram = make_material(name="Marram")
    as_user(owner).post(reverse("inventory:recipe-new"), sent((None, "2")) | named_new(0, "  marram "))
    assert Recipe.objects.get().versions.get().parts.get().material == marram


def test_a_helper_adds_no_material_this_way(helper: User) -> None:
    assert "new_name" not in as_user(helper).get(reverse("inventory:recipe-new")).context["formset"][0].fields
    data = sent((None, "2")) | named_new(0, "Marram")
    assert as_user(helper).post(reverse("inventory:recipe-new"), data).status_code == 422
    assert not Material.objects.exists()
