"""A recipe's parts as they are written down, put into rows, looked at, and saved."""

from typing import Any

import pytest
from django.urls import reverse

from inventory.materials.models import Kind, Material
from inventory.recipes.models import Recipe
from inventory.recipes.written_parts import read_part, read_parts
from studio.accounts.models import User
from tests.inventory.browsing import as_user
from tests.inventory.recipe_stories import sent
from tests.making import make_material, make_water


@pytest.mark.parametrize(
    ("line", "name", "parts"),
    [
        ("Sail Loft White 2 parts", "Sail Loft White", "2"),
        ("2 parts Sail Loft White", "Sail Loft White", "2"),
        ("2 parts of Sail Loft White", "Sail Loft White", "2"),
        ("Sail Loft White: 2", "Sail Loft White", "2"),
        ("- Sail Loft White = 2.5", "Sail Loft White", "2.5"),
        ("1. Sail Loft White, 1 1/2 parts", "Sail Loft White", "1 1/2"),
        ("½ part water", "water", "½"),
        ("1½ Teile Wasser", "Wasser", "1½"),
        ("3 x Loft medium", "Loft medium", "3"),
        ("Loft medium 30%", "Loft medium", "30"),
        ("Blue 6 2 parts", "Blue 6", "2"),  # a number in the name stays there
        ("Sail Loft White", "Sail Loft White", ""),
        ("2", "", "2"),
    ],
)
def test_a_line_tells_a_name_and_how_many_parts(line: str, name: str, parts: str) -> None:
    read = read_part(line)
    assert (read.name, read.parts) == (name, parts)
    assert bool(read.advice) == (not name or not parts)


def test_blank_lines_say_nothing_and_long_ones_are_cut() -> None:
    assert list(read_parts("\n \n")) == []
    assert len(read_part("x" * 5000).name) == 200


def reading(lines: str, *parts: tuple[Material | None, str], **said: Any) -> dict[str, Any]:
    return sent(*parts, **{"do": "read", "written-lines": lines, **said})


def values(response: Any) -> list[tuple[Any, ...]]:
    """What stands in the rows of the page: material, new name, kind, parts."""
    names = ("material", "new_name", "new_kind", "parts")
    rows = [tuple(str(row[name].value() or "") for name in names) for row in response.context["formset"]]
    return [row for row in rows if any(row)]


@pytest.mark.django_db
def test_written_parts_become_rows_that_are_looked_at_before_anything_is_saved(owner: User) -> None:
    white, water = make_material(name="Sail Loft White"), make_water(name="Tap water")
    glue = make_material(name="Glue", kind=Kind.MEDIUM)
    text = "sail loft white 2 parts\nLoft extender 3 parts\n½ tap water"
    page = as_user(owner).post(reverse("inventory:recipe-new"), reading(text, (glue, "1"), notes="Stir."))
    assert page.status_code == 200
    assert not Recipe.objects.exists()
    rows = values(page)
    assert rows == [
        (str(glue.pk), "", "", "1"),
        (str(white.pk), "", "", "2"),
        ("", "Loft extender", "medium", "3"),
        (str(water.pk), "", "", "½"),
    ]
    assert page.context["form"]["notes"].value() == "Stir."
    assert not page.context["form"].errors
    data = sent(*[(None, "")] * 4)
    for number, row in enumerate(rows):
        for name, value in zip(("material", "new_name", "new_kind", "parts"), row, strict=True):
            data[f"parts-{number}-{name}"] = value
    assert as_user(owner).post(reverse("inventory:recipe-new"), data).status_code == 302
    parts = Recipe.objects.get().versions.get().parts.all()
    assert [(part.material.name, part.parts) for part in parts] == [
        ("Glue", 1000), ("Sail Loft White", 2000), ("Loft extender", 3000), ("Tap water", 500),
    ]  # fmt: skip


@pytest.mark.django_db
def test_more_lines_than_fit_are_refused_with_the_text_and_none_is_lost(owner: User) -> None:
    glue = make_material(name="Glue", kind=Kind.MEDIUM)
    text = "\n".join(f"Kelp {number}: 1" for number in range(100))
    page = as_user(owner).post(reverse("inventory:recipe-new"), reading(text, (glue, "1")))
    assert page.status_code == 422
    assert values(page) == [(str(glue.pk), "", "", "1")]
    assert page.context["written"]["lines"].value() == text


@pytest.mark.django_db
def test_no_text_is_asked_for_and_nothing_is_lost(owner: User) -> None:
    glue = make_material(name="Glue", kind=Kind.MEDIUM)
    page = as_user(owner).post(reverse("inventory:recipe-new"), reading("", (glue, "1")))
    assert page.status_code == 422
    assert values(page) == [(str(glue.pk), "", "", "1")]


@pytest.mark.django_db
def test_a_helper_reads_lines_too_and_adds_no_material(helper: User) -> None:
    white = make_material(name="Sail Loft White")
    text = "Sail Loft White 2 parts\nMarram 1 part"
    page = as_user(helper).post(reverse("inventory:recipe-new"), reading(text))
    rows = [(row["material"].value(), row["parts"].value()) for row in page.context["formset"]]
    assert rows == [(str(white.pk), "2"), (None, "1"), (None, None)]
    assert [row.as_written.text for row in page.context["formset"] if row.as_written] == text.split("\n")
