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


@pytest.mark.django_db
def test_parts_that_still_wait_when_the_recipe_is_saved_are_read_instead_of_lost(owner: User) -> None:
    glue = make_material(name="Glue", kind=Kind.MEDIUM)
    page = as_user(owner).post(reverse("inventory:recipe-new"), reading("Glue 2 parts", do=""))
    assert not Recipe.objects.exists()
    assert values(page) == [(str(glue.pk), "", "", "2")]


@pytest.mark.parametrize(
    ("line", "name", "parts"),
    [
        ("a splash of water", "water", "1/10"),
        ("and 2 splashes of water", "water", "1/5"),
        ("Wasser, ein Schuss", "Wasser", "1/10"),
        ("3 drops silicone oil", "silicone oil", "3/1000"),
    ],
)
def test_what_is_judged_by_eye_is_an_estimated_part_and_no_part_of_the_name(
    line: str, name: str, parts: str
) -> None:
    read = read_part(line)
    assert (read.name, read.parts, len(read.advice)) == (name, parts, 1)


@pytest.mark.parametrize(("line", "parts"), [("Splash Blue 2 parts", "2"), ("Drop Cloth White 1", "1")])
def test_a_name_may_have_a_word_for_an_amount(line: str, parts: str) -> None:
    read = read_part(line)
    assert (read.parts, read.estimate) == (parts, "")


@pytest.mark.django_db
def test_part_of_a_name_is_enough_where_only_one_material_has_it(owner: User) -> None:
    medium = make_material(name="Loft pouring medium", kind=Kind.MEDIUM)
    water = make_water(name="Tap water")
    blues = [make_material(name=name) for name in ("Tidewrack Blue", "Leeward Blue")]
    text = "Loft 1.5 parts\na splash of water\nBlue 1"
    page = as_user(owner).post(reverse("inventory:recipe-new"), reading(text))
    assert values(page) == [
        (str(medium.pk), "", "", "1.5"),
        (str(water.pk), "", "", "1/10"),
        ("", "", "", "1"),
    ]
    advice = [row.as_written.advice for row in page.context["formset"] if row.as_written]
    assert all(each.name in advice[2][0] for each in blues)


@pytest.mark.django_db
def test_water_that_the_studio_has_not_yet_comes_from_the_tap(owner: User) -> None:
    glue = make_material(name="Glue", kind=Kind.MEDIUM)
    page = as_user(owner).post(reverse("inventory:recipe-new"), reading("Glue 2\na splash of water"))
    assert values(page)[1] == ("", "water", "medium", "1/10")
    data = sent((glue, "2"), (None, "1/10"))
    data["parts-1-new_name"] = "water"
    assert as_user(owner).post(reverse("inventory:recipe-new"), data).status_code == 302
    water = Material.objects.get(name="water")
    assert (water.is_free, water.water_share) == (True, 1_000_000)


@pytest.mark.django_db
def test_a_material_chosen_instead_of_the_name_that_was_read_counts(owner: User) -> None:
    glue = make_material(name="Glue", kind=Kind.MEDIUM)
    data = sent((glue, "2"))
    data |= {"parts-0-new_name": "Loft extender", "parts-0-written": "Loft extender 2 parts"}
    assert as_user(owner).post(reverse("inventory:recipe-new"), data).status_code == 302
    assert [part.material for part in Recipe.objects.get().versions.get().parts.all()] == [glue]


@pytest.mark.django_db
@pytest.mark.parametrize("amount", ["a splash", "5 ml"])
def test_an_amount_is_refused_in_place_of_parts_with_a_part_to_enter(owner: User, amount: str) -> None:
    page = as_user(owner).post(reverse("inventory:recipe-new"), sent((make_material(name="Glue"), amount)))
    assert page.status_code == 422
    assert "0.1" in page.context["formset"].errors[0]["parts"][0]
