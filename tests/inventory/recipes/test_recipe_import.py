"""Recipes from a table."""

import pytest

from inventory.materials.models import Material
from inventory.recipes.file_import import RECIPES, recorded
from inventory.recipes.models import Recipe
from studio.imports.checking import RowState
from studio.imports.views.files import table_file
from studio.preferences.models import Studio
from tests.making import make_material
from tests.studio.imports.making import checked, imported, problems_of

pytestmark = pytest.mark.django_db
TWO = """Recipe,Parts,Kind
Loft medium,2 Craft glue + 1 Tap water,medium
Foam,1 parts of Sail White + 1.5 Loft medium,
"""


@pytest.fixture(autouse=True)
def materials() -> None:
    for name in ("Craft glue", "Sail White"):
        make_material(name=name)
    make_material(name="Tap water", is_free=True)


def parts_of(name: str) -> dict[str, int]:
    version = Recipe.objects.get(name=name).versions.get()
    return {part.material.name: part.parts for part in version.parts.all()}


def test_recipes_come_in_with_what_they_make_and_may_use_the_rows_above() -> None:
    assert [row.state for row in checked("recipes", TWO)] == [RowState.NEW, RowState.NEW]
    assert not Recipe.objects.exists()
    assert imported("recipes", TWO).saved == 2
    assert parts_of("Loft medium") == {"Craft glue": 2_000, "Tap water": 1_000}
    assert parts_of("Foam") == {"Sail White": 1_000, "Loft medium": 1_500}
    assert Material.objects.get(name="Loft medium").kind == "medium"


def test_the_same_table_twice_adds_nothing_and_other_parts_are_refused() -> None:
    imported("recipes", TWO)
    assert imported("recipes", TWO).there == 2
    (row, _other) = checked("recipes", TWO.replace("2 Craft", "3 Craft"))
    assert [field for field, _text in problems_of(row)] == ["name"]


@pytest.mark.parametrize("form", ["csv", "xlsx"])
def test_what_is_recorded_imports_again_as_the_same_rows(form: str) -> None:
    imported("recipes", TWO)
    studio = Studio.current()
    raw = table_file(RECIPES, recorded(studio), studio, name="recipes", form=form).content
    assert {row.state for row in checked("recipes", raw)} == {RowState.THERE}


@pytest.mark.parametrize(
    ("parts", "field"),
    [
        ("glue and water", "parts"), ("2 Moon dust", "parts"), ("0 Craft glue", "parts"), ("", "parts"),
        ("1 Craft glue + 2 Craft glue", "parts"), ("1 + 2", "parts"),
    ],
)  # fmt: skip
def test_what_cannot_be_mixed_is_said(parts: str, field: str) -> None:
    (row,) = checked("recipes", f"Recipe,Parts\nFoam,{parts}\n")
    assert field in {key for key, _text in problems_of(row)}


def test_a_material_has_one_recipe() -> None:
    (_good, row) = checked(
        "recipes", TWO.splitlines()[0] + ",Makes\nA,1 Craft glue,,Foam\nB,2 Craft glue,,Foam\n"
    )
    assert [field for field, _text in problems_of(row)] == ["makes"]


@pytest.mark.parametrize(
    "headings", ["Recipe,Ingredient,Parts", "Rezept Name,Zutat,Teile", "Mix,Material,Amount"]
)
def test_a_row_for_each_part_makes_one_recipe(headings: str) -> None:
    table = (
        f"My mixes,,\n\n{headings}\nLoft medium,Craft glue,2\n,Tap water,1 part\n"
        "Foam,Sail White,1\nfoam,Loft medium,1.5\nFoam,Tap water,0.25\n"
    )
    assert [(row.line.number, row.state) for row in checked("recipes", table)] == [
        (4, RowState.NEW),
        (6, RowState.NEW),
    ]
    assert imported("recipes", table).saved == 2
    assert parts_of("Loft medium") == {"Craft glue": 2_000, "Tap water": 1_000}
    assert parts_of("Foam") == {"Sail White": 1_000, "Loft medium": 1_500, "Tap water": 250}
    assert imported("recipes", table).there == 2


@pytest.mark.parametrize(
    ("rows", "field"),
    [
        (",Craft glue,2\n", "name"),
        ("Foam,Sail White,1\n,Foam of the sea,2\n", "parts"),
        ("Foam,Sail White,1\n,Craft glue,\n", "parts"),
        ("Foam,Sail White,1\n,Sail White,2\n", "parts"),
    ],
)
def test_what_is_wrong_with_one_part_is_said_of_its_recipe(rows: str, field: str) -> None:
    (found,) = checked("recipes", f"Recipe,Ingredient,Parts\n{rows}")
    assert field in {key for key, _text in problems_of(found)}


def test_a_recipe_in_one_row_may_stand_among_those_with_a_row_for_each_part() -> None:
    table = (
        "Recipe,Ingredient,Parts,Kind\nLoft medium,,2 Craft glue + 1 Tap water,medium\n"
        "Foam,Sail White,1,\n,Loft medium,2,\n"
    )
    assert imported("recipes", table).saved == 2
    assert parts_of("Foam") == {"Sail White": 1_000, "Loft medium": 2_000}
