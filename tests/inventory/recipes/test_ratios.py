"""Ratios are kept, and applied to paints and media: every pair comes to one recipe, always the same."""

from typing import Any

import pytest
from django.db import IntegrityError, connection, transaction
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from inventory.materials.models import Kind, Material
from inventory.recipes.actions.ratios import (
    MixedByRatio,
    RatioFacts,
    RatioPartFacts,
    RatioUse,
    facts_of,
    mix_by_ratio,
    save_ratio,
)
from inventory.recipes.models import Basis, Ratio, RatioPart, Recipe
from inventory.recipes.queries import latest_version
from inventory.recipes.ratio_parts import RatioUnit, Role
from studio.accounts.models import User
from studio.auditing.edit_conflicts import EditConflict
from studio.errors import InputError
from studio.preferences.models import Studio
from tests.inventory.browsing import as_user, text_of
from tests.inventory.recipe_stories import make_ratio, ratio_facts
from tests.making import (
    make_batch,
    make_lot,
    make_material,
    make_plan,
    make_recipe,
    make_submission,
    make_surface,
    make_water,
    planned_line,
    units,
)
from tests.programs import Program

pytestmark = pytest.mark.django_db


@pytest.fixture
def water() -> Material:
    return make_water(name="Tap water")


def paints(*names: str) -> list[Material]:
    return [make_material(name=name, colour="#1f5f6b") for name in names]


def media(*names: str) -> list[Material]:
    return [make_material(name=name, kind=Kind.MEDIUM, keeps_days=90) for name in names]


def mixed(ratio: RatioFacts, chosen: list[Material], *rest: Any, **use: Any) -> list[MixedByRatio]:
    return mix_by_ratio(use=RatioUse(ratio, chosen, *rest, **use), submission=make_submission())


def parts_of(recipe: Recipe) -> dict[str, int]:
    version = latest_version(recipe)
    assert version is not None
    return {part.material.name: part.parts for part in version.parts.all()}


def test_three_paints_and_five_media_are_one_ratio_and_fifteen_recipes(water: Material) -> None:
    made = mixed(ratio_facts("1 : 2 : ½"), paints("Red", "Blue", "White"), media("A", "B", "C", "D", "E"))
    assert len({each.recipe.pk for each in made}) == 15
    assert [(each.paint.name, str(each.medium)) for each in made[:4]] == [
        ("Red", "A"), ("Blue", "A"), ("White", "A"), ("Red", "B"),
    ]  # fmt: skip
    assert all(each.recipe.by_ratio for each in made)
    assert parts_of(made[4].recipe) == {"Blue": 1000, "B": 2000, "Tap water": 500}
    makes = made[4].recipe.makes
    assert (makes.kind, makes.measure, makes.colour, makes.keeps_days) == (
        Kind.MIX,
        "volume",
        "#1f5f6b",
        None,
    )
    assert makes.water_share == 142_857  # half a part in three and a half
    assert makes.density == (2 * 1_120_000 + 4 * 1_120_000 + 1_000_000) // 7


def test_the_name_is_written_as_the_studio_writes_whoever_mixes() -> None:
    Studio.objects.update(language="de", locale="de_DE")
    [made] = mixed(ratio_facts("1 : 0.6", basis=Basis.MASS), paints("Blau"), media("Medium"))
    assert made.recipe.name == "Blau + Medium, 1 : 0,6 nach Gewicht"


def test_a_mix_keeps_no_longer_than_the_home_made_medium_in_it() -> None:
    [own], [bought] = media("Own"), media("Bought")
    make_recipe(parts=[(make_material(), 1)], makes=own)
    made = mixed(ratio_facts("1 : 2"), paints("Blue"), [own, bought])
    assert [each.recipe.makes.keeps_days for each in made] == [90, None]


def test_the_same_ratio_paint_and_medium_come_to_the_same_recipe(water: Material) -> None:
    blue, thin = paints("Blue"), media("Thin")
    [first] = mixed(ratio_facts("1 : 2 : ½"), blue, thin)
    for written in ("1 : 2 : ½", "2 : 4 : 1", "0.5 : 1 : 1/4"):
        [again] = mixed(ratio_facts(written), blue, thin)
        assert again.recipe == first.recipe
    [other] = mixed(ratio_facts("1 : 2 : 1"), blue, thin)
    [by_weight] = mixed(ratio_facts("1 : 2 : ½", basis=Basis.MASS), blue, thin)
    assert len({first.recipe.pk, other.recipe.pk, by_weight.recipe.pk}) == 3


def test_a_recipe_that_was_written_with_these_parts_is_taken_up(water: Material) -> None:
    [blue], [thin] = paints("Blue"), media("Thin")
    own = make_recipe(parts=[(thin, 4), (blue, 2), (water, 1)], name="Tide Blue").recipe
    [made] = mixed(ratio_facts("1 : 2 : ½"), [blue], [thin])
    assert made.recipe == own
    assert Recipe.objects.count() == 1


def test_a_recipe_that_was_changed_since_is_no_longer_the_ratios(water: Material) -> None:
    [blue], [thin] = paints("Blue"), media("Thin")
    [made] = mixed(ratio_facts("1 : 2"), [blue], [thin])
    version = made.recipe.versions.get()
    version.parts.filter(material=blue).update(parts=1500)
    [again] = mixed(ratio_facts("1 : 2"), [blue], [thin])
    assert again.recipe != made.recipe
    assert again.recipe.name == f"{made.recipe.name} (2)"


def test_drops_and_per_cent_go_in_beside_the_parts(water: Material) -> None:
    oil = make_material(name="Oil", kind=Kind.ADDITIVE, density=970_000)
    [dripped] = mixed(ratio_facts("1 : 2 : ½ + 3 drops"), paints("Blue"), media("Thin"), additive=oil)
    parts = parts_of(dripped.recipe)
    assert {name: part for name, part in parts.items() if name != "Oil"} == {
        "Blue": 1_000_000, "Thin": 2_000_000, "Tap water": 500_000,
    }  # fmt: skip
    assert parts["Oil"] / sum(parts.values()) == pytest.approx(0.0015, rel=1e-3)
    with pytest.raises(InputError):
        mixed(ratio_facts("1 : 2 : ½ + 3 drops"), paints("Red"), media("Thick"))


def test_a_named_material_is_the_same_in_every_cup_and_added_to_what_is_chosen() -> None:
    [white, blue], [thin] = paints("White", "Blue"), media("Thin")
    ratio = RatioFacts(
        [
            RatioPartFacts(Role.PAINT, 1000),
            RatioPartFacts(Role.PAINT, 500, RatioUnit.PARTS, white),
            RatioPartFacts(Role.MEDIUM, 2000),
        ]
    )
    tinted, pure = mixed(ratio, [blue, white], [thin])
    assert parts_of(tinted.recipe) == {"Blue": 1000, "White": 500, "Thin": 2000}
    assert parts_of(pure.recipe) == {"White": 1500, "Thin": 2000}


def test_a_mix_by_weight_without_a_density_is_weighed() -> None:
    heavy = make_material(name="Glitter", density=None)
    [made] = mixed(ratio_facts("1 : 2", basis=Basis.MASS), [heavy], media("Thin"))
    assert made.recipe.makes.measure == "mass"


def test_a_cup_by_a_ratio_is_mixed_like_any_other(water: Material) -> None:
    [blue], [thin] = paints("Blue"), media("Thin")
    for material in (blue, thin):
        make_lot(material=material)
    [made] = mixed(ratio_facts("1 : 2 : ½"), [blue], [thin])
    version = latest_version(made.recipe)
    assert version is not None
    mix = make_batch(version=version, quantity=units(350))
    assert mix.lot.balance.quantity == units(350)
    assert mix.water_share == pytest.approx(142_857, abs=1)


@pytest.mark.parametrize(
    ("written", "use", "field"),
    [
        ("1 : 2", {"paints": 0, "media": 1}, "paints"),
        ("1 : 2", {"paints": 1, "media": 0}, "media"),
        ("1 : 0 : 1", {"paints": 1, "media": 1}, "media"),
        ("1 : 2 : 1", {"paints": 1, "media": 1}, "water"),  # there is none
        ("1 : 2", {"paints": 101, "media": 1}, "paints"),
    ],
)
def test_what_is_missing_or_too_much_is_named(written: str, use: dict[str, int], field: str) -> None:
    many = paints(*(f"Paint {number}" for number in range(use["paints"])))
    with pytest.raises(InputError) as refusal:
        mixed(ratio_facts(written), many, media(*("Thin",) * use["media"]))
    assert refusal.value.field == field
    assert not Recipe.objects.exists()


@pytest.mark.parametrize(
    "parts",
    [
        [(Role.MEDIUM, 1000, RatioUnit.PARTS)],
        [(Role.PAINT, 1000, RatioUnit.PARTS), (Role.PAINT, 500, RatioUnit.PARTS)],
        [(Role.PAINT, 0, RatioUnit.PARTS)],
        [(Role.PAINT, 10_000, RatioUnit.PERCENT)],
        [(Role.PAINT, 1000, RatioUnit.PARTS), (Role.ADDITIVE, 1_000_000, RatioUnit.PERCENT)],
    ],
)
def test_a_ratio_that_cannot_be_applied_is_refused(parts: list[tuple[Role, int, RatioUnit]]) -> None:
    with pytest.raises(InputError):
        RatioFacts([RatioPartFacts(*part) for part in parts])


def test_a_ratio_is_kept_and_changed_and_its_mixes_stay(water: Material) -> None:
    ratio = make_ratio("1 : 2 : ½")
    [made] = mixed(facts_of(ratio), paints("Blue"), media("Thin"))
    save_ratio(facts=ratio_facts("1 : 3", name="Thin"), submission=make_submission(), ratio=ratio, seen=None)
    ratio = Ratio.objects.get()
    assert facts_of(ratio).written() == "1 : 3"
    assert parts_of(made.recipe) == {"Blue": 1000, "Thin": 2000, "Tap water": 500}
    with pytest.raises(InputError, match="has this name"):
        make_ratio("1 : 1", name="Thin")
    with pytest.raises(EditConflict):
        save_ratio(facts=ratio_facts("1 : 4", name="Thin"), submission=make_submission(), ratio=ratio, seen=0)


@pytest.mark.parametrize(
    "change", [{"amount": 0}, {"role": "glue"}, {"unit": "spoons"}, {"unit": "drops"}, {"line": 2}]
)
def test_the_database_keeps_parts_sensible(change: dict[str, Any]) -> None:
    part = make_ratio("1 : 2").parts.get(line=1)
    with pytest.raises(IntegrityError), transaction.atomic():
        RatioPart.objects.filter(pk=part.pk).update(**change)


# Pages


def typed(*rows: tuple[str, str, Any], **head: Any) -> dict[str, Any]:
    sent = {
        "name": "Rings",
        "basis": "volume",
        "parts-TOTAL_FORMS": len(rows),
        "parts-INITIAL_FORMS": 0,
        **head,
    }
    for number, (role, amount, material) in enumerate(rows):
        sent |= {f"parts-{number}-role": role, f"parts-{number}-amount": amount}
        sent[f"parts-{number}-material"] = material.pk if material else ""
    return sent


def test_a_ratio_is_written_and_changed_on_its_page(helper: User) -> None:
    oil = make_material(name="Oil", kind=Kind.ADDITIVE)
    client = as_user(helper)
    rows = [("paint", "1", None), ("medium", "1 1/2", None), ("additive", "3 drops", oil)]
    client.post(reverse("inventory:ratio-new"), typed(*rows))
    ratio = Ratio.objects.get()
    assert facts_of(ratio).written() == "1 : 1½ + 3 drops"
    address = reverse("inventory:ratio-edit", args=[ratio.pk])
    assert "3 drops" in client.get(address).content.decode()
    client.post(address, typed(*rows[:2], is_archived="on"))
    assert "Nothing matches" in text_of(client.get(reverse("inventory:ratios")))
    assert "1 : 1½" in text_of(client.get(reverse("inventory:ratios"), {"archived": "true"}))


@pytest.mark.parametrize(
    ("row", "field"),
    [
        (("paint", "lots", None), "amount"),
        (("paint", "3 drops", None), "amount"),
        (("glue", "1", None), "role"),
        (("", "1", None), "role"),
    ],
)
def test_what_is_wrong_stands_at_its_row(owner: User, row: tuple[str, str, None], field: str) -> None:
    response = as_user(owner).post(reverse("inventory:ratio-new"), typed(row))
    assert response.status_code == 422
    assert field in response.context["formset"].errors[0]
    assert not Ratio.objects.exists()


def test_the_list_reads_the_same_few_queries_however_many_ratios(owner: User) -> None:
    client, address = as_user(owner), reverse("inventory:ratios")
    make_ratio(name="One")
    client.get(address)
    with CaptureQueriesContext(connection) as few:
        client.get(address)
    for number in range(6):
        make_ratio(f"1 : {number + 3}", name=f"Ratio {number}")
    with CaptureQueriesContext(connection) as many:
        client.get(address)
    assert len(many) == len(few)


def test_recipes_of_a_ratio_do_not_stand_among_her_own_unless_asked(owner: User, water: Material) -> None:
    [made] = mixed(ratio_facts("1 : 2 : ½"), paints("Blue"), media("Thin"))
    make_recipe(parts=[(make_material(), 1)], name="Own mix")
    client = as_user(owner)
    assert made.recipe.name not in text_of(client.get(reverse("inventory:recipes")))
    assert made.recipe.name in text_of(client.get(reverse("inventory:recipes"), {"by_ratio": "true"}))


# Programs


def test_a_program_keeps_a_ratio_and_applies_it_to_every_pair(owner: User, water: Material) -> None:
    program = Program(owner)
    kept = program.send(
        "ratios/",
        {"name": "Rings", "parts": [{"role": "paint", "amount": "1"}, {"role": "medium", "amount": "1.5"}]},
    )
    assert (kept["written"], kept["parts"][1]["amount"]) == ("1 : 1½", "1½")
    body = {
        "ratio": kept["id"],
        "paints": [paint.pk for paint in paints("Red", "Blue")],
        "media": [medium.pk for medium in media("A", "B")],
    }
    first, again = (program.send("ratio-recipes/", body, status=200)["recipes"] for _ in range(2))
    assert first == again
    assert [(row["paint"]["name"], row["medium"]["name"]) for row in first] == [
        ("Red", "A"), ("Blue", "A"), ("Red", "B"), ("Blue", "B"),
    ]  # fmt: skip
    written = {"written": "1 : 0 : 1/2", "paints": body["paints"][:1]}
    [row] = program.send("ratio-recipes/", written, status=200)["recipes"]
    assert (row["medium"], parts_of(Recipe.objects.get(pk=row["recipe"]["id"]))) == (
        None, {"Red": 1000, "Tap water": 500},
    )  # fmt: skip


def test_a_program_is_told_what_is_wrong_with_a_ratio(owner: User) -> None:
    program, [red] = Program(owner), paints("Red")
    for body, field in (
        ({"paints": [red.pk]}, "non_field_errors"),
        ({"written": "1 to 2", "paints": [red.pk]}, "written"),
        ({"written": "1 : 2", "paints": [red.pk]}, "media"),
        ({"written": "1 : 2", "paints": []}, "paints"),
    ):
        assert field in program.refusal("ratio-recipes/", body, status=400)["errors"]


def test_what_came_of_a_ratio_can_be_planned(owner: User, water: Material) -> None:
    [made] = mixed(ratio_facts("1 : 2 : ½"), paints("Blue"), media("Thin"))
    plan = make_plan(planned_line(make_surface(), 2, made.recipe.makes))
    answer = Program(owner).read(f"plans/{plan.pk}/")
    assert answer["answer"]["cups"][0]["material"]["id"] == made.recipe.makes_id


def test_what_is_made_again_is_kept_among_the_written_recipes(helper: User, water: Material) -> None:
    first, second = mixed(ratio_facts("1 : 2 : ½"), paints("Blue", "Red"), media("Thin"))
    client = as_user(helper)
    client.post(reverse("inventory:recipe-keep", args=[first.recipe.pk]))
    Program(helper).send(f"recipes/{second.recipe.pk}/keep/", status=200)
    assert not Recipe.objects.filter(by_ratio=True).exists()
    assert first.recipe.name in text_of(client.get(reverse("inventory:recipes")))


def test_a_program_changes_a_ratio_that_it_has_seen(owner: User) -> None:
    program, kept = Program(owner), make_ratio()
    path = f"ratios/{kept.pk}/change/"
    tag = program.get(f"ratios/{kept.pk}/").headers["ETag"]
    body = {"name": "Thin", "parts": [{"role": "paint", "amount": "1"}, {"role": "medium", "amount": "3"}]}
    changed = program.post(path, body, if_match=tag)
    assert (changed.status_code, changed.json()["written"]) == (200, "1 : 3")
    refused = program.post(path, body | {"name": "Thinner"}, if_match=tag)
    assert (refused.status_code, Ratio.objects.get().name) == (412, "Thin")
    assert program.post(path, body | {"name": "Thinner"}, if_match=changed.headers["ETag"]).status_code == 200
    assert program.post(path, body | {"is_archived": True}).json()["is_archived"]


def test_each_recipe_of_a_ratio_takes_a_few_statements_and_reads_nothing_again(water: Material) -> None:
    ratio, red, blue = ratio_facts("1 : 2 : ½"), paints("Red"), paints("Blue", "White", "Gold")
    counts = []
    for chosen in (red, blue):
        in_media = media(*(f"{chosen[0].name} {n}" for n in range(5)))
        with CaptureQueriesContext(connection) as queries:
            mixed(ratio, chosen, in_media)
        counts.append(len(queries))
    assert (counts[1] - counts[0]) / 10 <= 13, counts
