"""A recipe under another name, the same parts with other paints, and the colour of a swatch."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from inventory.materials.models import Kind, Material
from inventory.recipes.actions.variants import OtherPaints
from inventory.recipes.colours import mixed_colour
from inventory.recipes.models import Recipe, RecipeVersion
from inventory.recipes.queries import latest_version
from studio.accounts.models import User
from studio.errors import InputError
from tests.inventory.browsing import as_user, text_of
from tests.inventory.recipe_stories import loft_medium, page_of
from tests.making import make_material, make_recipe
from tests.programs import Program

pytestmark = pytest.mark.django_db


def parts_of(recipe: Recipe) -> list[tuple[str, int]]:
    version = latest_version(recipe)
    assert version is not None
    return [(part.material.name, part.parts) for part in version.parts.all()]


def harbour_mix(**facts: str) -> RecipeVersion:
    """Two parts of Harbour Blue to one of medium, poured as "Harbour Blue, thin"."""
    blue = make_material(name="Harbour Blue", colour="#1f5f6b")
    medium = make_material(name="Loft medium", kind=Kind.MEDIUM, colour="#d9eaeb")
    name = "Harbour Blue, thin"
    makes = make_material(name=name, kind=Kind.MIX, keeps_days=30)
    return make_recipe(name=name, makes=makes, parts=[(blue, 2), (medium, 1)], **facts)


def test_a_copy_has_the_same_parts_and_makes_a_material_of_its_own(helper: User) -> None:
    first = harbour_mix().recipe
    Recipe.objects.update(notes="Stir well.")
    page = as_user(helper).get(page_of(first, "recipe-duplicate"))
    assert page.context["form"]["name"].value() == "Harbour Blue, thin (copy)"
    response = as_user(helper).post(page_of(first, "recipe-duplicate"), {"name": "Ebb"})
    copy = Recipe.objects.get(name="Ebb")
    assert response["Location"] == page_of(copy, "recipe-version")
    assert parts_of(copy) == parts_of(first)
    assert (copy.makes.name, copy.makes.kind, copy.makes.keeps_days) == ("Ebb", Kind.MIX, 30)
    assert copy.notes == "Stir well."


@pytest.mark.parametrize("name", ["", "Loft medium", "Glue"])
def test_a_copy_without_a_free_name_is_refused_and_nothing_is_kept(owner: User, name: str) -> None:
    recipe = loft_medium().recipe
    response = as_user(owner).post(page_of(recipe, "recipe-duplicate"), {"name": name})
    assert response.status_code == 422
    assert Recipe.objects.count() == 1
    assert Material.objects.count() == 3
    refused = Program(owner).post(f"recipes/{recipe.pk}/duplicate/", {"name": name})
    assert refused.status_code in (400, 422)


def test_each_chosen_paint_gets_a_recipe_named_after_it(helper: User) -> None:
    version = harbour_mix()
    green = make_material(name="Marram", colour="#5b7f3a")
    white = make_material(name="Sail Loft White", colour="#ffffff")
    as_user(helper).post(page_of(version.recipe, "recipe-for-paints"), {"paints": [green.pk, white.pk]})
    thin = Recipe.objects.get(name="Marram, thin")
    assert parts_of(thin) == [("Marram", 2000), ("Loft medium", 1000)]
    assert (thin.makes.kind, thin.makes.keeps_days, thin.makes.colour) == (Kind.MIX, 30, "#5b7f3a")
    assert parts_of(Recipe.objects.get(name="Sail Loft White, thin"))[0] == ("Sail Loft White", 2000)


def test_the_same_paint_is_not_written_twice(owner: User) -> None:
    version, green = harbour_mix(), make_material(name="Marram")
    address, body = f"recipes/{version.recipe_id}/for-paints/", {"paints": [green.pk]}
    first = Program(owner).send(address, body, status=200)["recipes"]
    again = Program(owner).send(address, body, status=200)["recipes"]
    assert [row["is_new"] for row in (*first, *again)] == [True, False]
    assert first[0]["recipe"] == again[0]["recipe"]
    page = as_user(owner).post(page_of(version.recipe, "recipe-for-paints"), body, follow=True)
    assert "Already there" in text_of(page)


def test_of_two_paints_the_one_to_replace_is_chosen(owner: User) -> None:
    blue, white, green = (make_material(name=name) for name in ("Harbour Blue", "Sail Loft White", "Marram"))
    version = make_recipe(name="Ebb", parts=[(blue, 2), (white, 1)])
    address = page_of(version.recipe, "recipe-for-paints")
    assert as_user(owner).post(address, {"paints": [green.pk]}).status_code == 422
    as_user(owner).post(address, {"paints": [green.pk], "replaces": white.pk})
    assert parts_of(Recipe.objects.get(name="Marram (as Ebb)")) == [("Harbour Blue", 2000), ("Marram", 1000)]


def test_a_paint_of_the_recipe_or_no_paint_is_refused() -> None:
    version, green = harbour_mix(), make_material(name="Marram")
    blue = version.parts.all()[0].material
    canvas = make_material(name="Board", kind=Kind.SUNDRY, measure="count")
    for paints, replaces in (([green, blue], None), ([], None), ([green, canvas], None), ([green], green)):
        with pytest.raises(InputError):
            OtherPaints(version, paints, replaces)


def test_choosing_paints_costs_the_same_number_of_queries_however_many_there_are(owner: User) -> None:
    address = page_of(harbour_mix().recipe, "recipe-for-paints")
    client = as_user(owner)

    def queries() -> int:
        with CaptureQueriesContext(connection) as queries:
            assert client.get(address).status_code == 200
        return len(queries)

    make_material(name="Marram")
    queries()
    few = queries()
    for number in range(5):
        make_material(name=f"Kelp {number}")
    assert queries() == few


def test_the_guess_is_the_mean_of_light_and_not_of_codes() -> None:
    # Half of white's light is encoded as 188 (IEC 61966-2-1: 1.055 × 0.5^(1/2.4) − 0.055 = 0.7354; × 255 = 187.5).
    assert mixed_colour([("#ffffff", 1), ("#000000", 1)]) == "#bcbcbc"
    assert mixed_colour([("#1F5F6B", 3000)]) == "#1f5f6b"
    assert mixed_colour([("#ff0000", 1), ("#0000ff", 3)]) == "#8900e1"
    assert mixed_colour([("#ff0000", 1), ("", 3)]) == mixed_colour([]) == ""


@pytest.mark.parametrize("channel", range(0, 256, 5))
def test_a_colour_alone_stays_what_it_is(channel: int) -> None:
    colour = f"#{channel:02x}{255 - channel:02x}{channel:02x}"
    assert mixed_colour([(colour, 7), (colour, 11)]) == colour


def test_the_colour_is_guessed_by_the_paints_alone_until_one_is_saved(helper: User) -> None:
    recipe = harbour_mix().recipe
    address = page_of(recipe, "recipe-colour")
    page = as_user(helper).get(address)
    assert page.context["form"]["colour"].value() == "#1f5f6b"
    assert not Material.objects.get(pk=recipe.makes_id).colour
    as_user(helper).post(address, {"colour": "#2f5d9b", "seen": page.context["form"]["seen"].value()})
    assert Material.objects.get(pk=recipe.makes_id).colour == "#2f5d9b"
    answer = Program(helper).read(f"recipes/{recipe.pk}/")
    assert (answer["colour"], answer["guessed_colour"]) == ("#2f5d9b", "#1f5f6b")


@pytest.mark.parametrize("colour", ["blue", "#12345", "#12345g", "red;}"])
def test_what_is_no_colour_is_refused(owner: User, colour: str) -> None:
    recipe = harbour_mix().recipe
    response = as_user(owner).post(page_of(recipe, "recipe-colour"), {"colour": colour})
    assert response.status_code == 422
    assert response.context["form"]["colour"].value() == colour
    Program(owner).send(f"recipes/{recipe.pk}/colour/", {"colour": colour}, status=400)


def test_a_recipe_without_a_paint_has_nothing_to_replace(owner: User) -> None:
    recipe = loft_medium().recipe
    for name in ("recipe-for-paints", "recipe-colour"):
        assert as_user(owner).get(page_of(recipe, name)).status_code == 200
    assert as_user(owner).post(page_of(recipe, "recipe-for-paints"), {"paints": ["1"]}).status_code == 422
    assert Recipe.objects.count() == 1


def test_a_recipe_without_parts_is_given_some_first(owner: User) -> None:
    bare = Recipe.objects.create(name="Bare", makes=make_material(name="Bare mix", kind=Kind.MIX))
    assert as_user(owner).get(page_of(bare, "recipe-colour")).status_code == 200
    assert as_user(owner).get(page_of(bare, "recipe-for-paints"))["Location"] == page_of(
        bare, "recipe-version"
    )
    assert as_user(owner).post(page_of(bare, "recipe-duplicate"), {"name": "Ebb"}).status_code == 422
    Program(owner).send(f"recipes/{bare.pk}/for-paints/", {"paints": [bare.makes_id]}, status=400)
