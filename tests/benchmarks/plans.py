"""The plan for a large set of surfaces, beside reading what it rests on. It needs no ledger."""

from collections.abc import Sequence
from dataclasses import replace
from functools import partial
from itertools import islice
from random import Random

from django.db import connection

from inventory.materials.models import Kind, Material, Supply
from inventory.recipes.models import Recipe
from inventory.sessions.queries.planning import Colour, SetLine, SetPlan, plan_set
from tests import making
from tests.benchmarks.figures import Figure, side_by_side
from tests.days import TODAY
from tests.faults.jobs import Meet, Say

SURFACES, RECIPES, MATERIALS = 50, 40, 300
COLOURS = 4
BASES = 4  # one recipe in so many is a base that goes into the others
BOTTLE = 1_000_000
MANY = 100  # pours of each surface, for which the shelf holds too little of most paints


def plan_large_set(*, runs: int, part: int, say: Say, meet: Meet) -> list[Figure]:
    """What to mix and buy and how many could be poured at most, for every surface and for the whole set."""
    surfaces, recipes, materials = (max(4, size // part) for size in (SURFACES, RECIPES, MATERIALS))
    chance = Random(1)
    canvases = [making.make_surface() for _ in range(surfaces)]
    paints = [making.make_material() for _ in range(max(4, materials - surfaces - recipes))]
    made = _make_recipes(recipes, paints, chance)
    _stock(canvases, paints, made)
    technique = making.the_technique()
    lines = [
        SetLine(
            canvas,
            2,
            technique,
            [Colour(recipe.makes, chance.randint(1, 5)) for recipe in _some(made, chance)],
        )
        for canvas in canvases
    ]
    work = f"P6 plan {surfaces} surfaces from {recipes} recipes"
    return [
        _figure(f"{work}{of_what}", [replace(line, count=count) for line in lines], runs)
        for of_what, count in (("", 2), (", scarce", MANY))
    ]


def _figure(work: str, lines: Sequence[SetLine], runs: int) -> Figure:
    plan = partial(plan_set, SetPlan(lines, reserve=100_000), on=TODAY)
    answer = plan()
    most, asked = answer.at_most.most, sum(line.count for line in lines)
    note = f"{len(answer.cups) + len(answer.mix_first)} cups, {len(answer.buy)} to buy, {most.total} to "
    note += f"{most.bound} of {asked} pours"
    return side_by_side(work, plan, _bare_reading, runs=max(1, runs // 2), note=note)


def _make_recipes(count: int, paints: Sequence[Material], chance: Random) -> list[Recipe]:
    """Bases of paints alone, then colours that take one of the bases as well."""
    made: list[Recipe] = []
    for number in range(count):
        base = [] if number < count // BASES else [(chance.choice(made[: count // BASES]).makes, 3)]
        parts = [*base, *((paint, chance.randint(1, 4)) for paint in chance.sample(paints, 3))]
        mixed = making.make_material(kind=Kind.MIX)
        made.append(making.make_recipe(parts=parts, makes=mixed, name=mixed.name).recipe)
    return made


def _stock(canvases: Sequence[Material], paints: Sequence[Material], made: Sequence[Recipe]) -> None:
    """Plenty of most paints, a drop of some, a jar of every other mix, canvases, and a merchant of paints."""
    held = [
        (paint, BOTTLE // 50 if place % 20 == 0 else 20 * BOTTLE, BOTTLE)
        for place, paint in enumerate(paints)
    ]
    held += [(recipe.makes, BOTTLE // 5, BOTTLE) for recipe in islice(made, 0, None, 2)]
    making.make_opening(lines=[*held, *((canvas, MANY * 1000, BOTTLE) for canvas in canvases)])
    merchant = making.make_supplier()
    Supply.objects.bulk_create(
        Supply(supplier=merchant, material=paint, pack_size=BOTTLE // packs, price=9 * BOTTLE // packs)
        for paint in paints
        for packs in (1, 4)
    )


def _some(made: Sequence[Recipe], chance: Random) -> list[Recipe]:
    return chance.sample(list(made), min(COLOURS, len(made)))


def _bare_reading() -> int:
    """Every material, the parts of every recipe, and what every lot holds."""
    read = 0
    with connection.cursor() as cursor:
        for statement in (
            "SELECT * FROM inventory_material",
            "SELECT r.makes_id, p.material_id, p.parts FROM inventory_recipepart p "
            "JOIN inventory_recipeversion v ON v.id = p.version_id JOIN inventory_recipe r ON r.id = v.recipe_id",
            "SELECT l.material_id, l.best_before, b.quantity FROM inventory_lotbalance b "
            "JOIN inventory_lot l ON l.id = b.lot_id WHERE b.quantity > 0",
        ):
            cursor.execute(statement)
            read += len(cursor.fetchall())
    return read
