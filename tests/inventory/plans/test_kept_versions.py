"""Plans that keep to recipe versions, lots and amounts, whatever is in force by the time they are poured."""

from typing import Any

import pytest
from django.db import IntegrityError, transaction
from django.urls import reverse
from hypothesis import given
from hypothesis import settings as examples
from hypothesis import strategies as st

from inventory.materials.models import Kind, Material
from inventory.plans.actions import PlanFacts, PlanLineFacts, copy_plan, save_plan
from inventory.plans.models import Plan, PlanLine, PlanSource
from inventory.plans.queries import Promises, answer_of
from inventory.recipes.actions.recipes import write_version
from inventory.recipes.models import RecipeVersion
from inventory.sessions.models import Session, Technique
from studio.accounts.models import User
from studio.errors import InputError
from studio.preferences.models import Studio
from tests.days import DAY, TODAY
from tests.inventory.browsing import as_user, filled_in, text_of
from tests.making import (
    make_batch,
    make_lot,
    make_material,
    make_plan,
    make_recipe,
    make_submission,
    make_surface,
    the_technique,
    units,
)
from tests.programs import Program

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def usual(db: None) -> None:
    """Nothing extra, and 0.1 mL/cm²: a board of 900 cm² would take 90 mL."""
    Technique.objects.update(coverage=100)
    Studio.objects.update(reserve=0)


@pytest.fixture
def board() -> Material:
    board = make_surface(name="Board", depth=None, sides_painted=False)
    make_lot(material=board, quantity=units(50))
    return board


@pytest.fixture
def blue() -> RecipeVersion:
    """Tide Blue, 1 blue to 1 medium; mixed once by that, and written 1 to 3 since."""
    paint, medium = make_material(name="Blue"), make_material(name="Medium", kind=Kind.MEDIUM)
    for material in (paint, medium):
        make_lot(material=material)
    first = make_recipe(
        parts=[(paint, 1), (medium, 1)],
        makes=make_material(name="Tide Blue", kind=Kind.MIX),
        name="Tide Blue",
    )
    make_batch(version=first, quantity=units(40))
    write_version(
        recipe=first.recipe,
        parts=[(paint, 1000), (medium, 3000)],
        basis="volume",
        submission=make_submission(),
    )
    return first


def plan_of(board: Material, blue: RecipeVersion, *, poured: int | None = 60_000, **facts: Any) -> Plan:
    line = PlanLineFacts(board, 2, the_technique(), [(blue.recipe.makes, 1000)], poured=poured)
    return make_plan(line, **facts)


def parts_of(plan: Plan) -> dict[str, int | None]:
    now = Plan.objects.with_lines().get(pk=plan.pk)
    (cup,) = answer_of(now, today=TODAY).cups
    return {part.material.name: part.volume for part in cup.parts}


def test_a_plan_keeps_to_its_version_and_to_what_is_poured_on_each(
    board: Material, blue: RecipeVersion
) -> None:
    plan = plan_of(board, blue, versions=[blue])
    assert parts_of(plan) == {"Blue": 40_000, "Medium": 40_000}  # 120 mL less the 40 that stand ready
    plan.delete()
    assert parts_of(plan_of(board, blue)) == {"Blue": 20_000, "Medium": 60_000}


def test_only_leftovers_of_the_version_that_is_kept_to_are_used(board: Material, blue: RecipeVersion) -> None:
    newer = RecipeVersion.objects.get(number=2)
    make_batch(version=newer, quantity=units(100))
    plan = plan_of(board, blue, versions=[blue])
    (cup,) = answer_of(Plan.objects.with_lines().get(pk=plan.pk), today=TODAY).cups
    assert (cup.from_stock, cup.to_mix) == (40_000, 80_000)
    (reserved,) = Promises(TODAY).reservations
    assert reserved.quantities[blue.recipe.makes_id] == 40_000


def test_what_a_plan_keeps_to_is_copied_and_told_in_the_change_log(
    board: Material, blue: RecipeVersion, owner: User
) -> None:
    lot = make_lot(material=board)
    plan = plan_of(board, blue, versions=[blue], lots=[lot])
    copied = copy_plan(
        plan=Plan.objects.with_lines().get(pk=plan.pk), on=TODAY + DAY, submission=make_submission()
    )
    kept = {(each.material.name, each.version, each.lot) for each in copied.sources.all()}
    assert kept == {("Board", None, lot), ("Tide Blue", blue, None)}
    assert copied.lines.get().poured == 60_000
    save_plan(
        facts=PlanFacts(
            "Harbour lights",
            TODAY,
            [PlanLineFacts(board, 2, the_technique(), [(blue.recipe.makes, 1000)])],
            versions=[blue],
        ),
        plan=plan,
        submission=make_submission(by=owner),
    )
    log = text_of(as_user(owner).get(reverse("change-log")))
    assert "Board: L" in log
    assert "60 mL" in log


def test_a_version_that_was_never_mixed_cannot_be_kept_to(board: Material, blue: RecipeVersion) -> None:
    with pytest.raises(InputError, match="has not been mixed"):
        plan_of(board, blue, versions=[RecipeVersion.objects.get(number=2)])


def test_one_version_of_a_recipe_and_one_lot_of_a_material(board: Material, blue: RecipeVersion) -> None:
    with pytest.raises(InputError):
        plan_of(board, blue, versions=[blue, RecipeVersion.objects.get(number=2)])
    with pytest.raises(InputError):
        plan_of(board, blue, lots=[make_lot(material=board), make_lot(material=board)])
    with pytest.raises(InputError):
        plan_of(board, blue, poured=0)


def test_the_database_keeps_nonsense_out(board: Material, blue: RecipeVersion) -> None:
    plan = plan_of(board, blue, versions=[blue])
    source = plan.sources.get()
    for change in (
        lambda: PlanLine.objects.update(poured=0),
        lambda: PlanSource.objects.update(version=None),
        lambda: PlanSource.objects.create(plan=plan, material=source.material, version=blue),
    ):
        with pytest.raises(IntegrityError), transaction.atomic():
            change()


def test_the_session_of_a_plan_is_filled_in_and_mixed_by_its_version_and_lots(
    board: Material, blue: RecipeVersion, owner: User
) -> None:
    paint = Material.objects.get(name="Blue")
    other = make_lot(material=paint, on=TODAY)
    plan = plan_of(board, blue, versions=[blue], lots=[other])
    client, address = as_user(owner), f"{reverse('inventory:session-new')}?plan={plan.pk}"
    page = client.get(address)
    assert "Tide Blue, version 1" in text_of(page)
    answer = client.post(address, {**filled_in(page, "cups-TOTAL_FORMS"), "held_on": TODAY.isoformat()})
    assert answer.status_code == 302, text_of(answer)
    session = Session.objects.get()
    mix = session.mixes.get()
    assert mix.version == blue
    assert mix.posting.entries.filter(lot=other, quantity__lt=0).exists()
    assert [pour.poured for pour in session.pours.all()] == [60_000, 60_000]
    assert Plan.objects.get(pk=plan.pk).session == session


def test_editing_a_plan_keeps_what_stays_ticked(board: Material, blue: RecipeVersion, owner: User) -> None:
    plan = plan_of(board, blue, versions=[blue])
    client, address = as_user(owner), reverse("inventory:plan-edit", args=[plan.pk])
    sent = filled_in(client.get(address), "planned_on")
    client.post(address, sent)
    assert plan.sources.get().version == blue
    assert plan.lines.get().poured == 60_000
    sent = {
        name: value
        for name, value in filled_in(client.get(address), "planned_on").items()
        if "source_" not in name
    }
    client.post(address, sent)
    assert not plan.sources.exists()


def test_programs_send_and_read_what_a_plan_keeps_to(
    board: Material, blue: RecipeVersion, owner: User
) -> None:
    lot = make_lot(material=board)
    made = Program(owner).send(
        "plans/",
        {
            "name": "Once more", "planned_on": TODAY.isoformat(), "versions": [blue.pk], "lots": [lot.pk],
            "lines": [
                {
                    "surface": board.pk, "count": 2, "technique": the_technique().pk, "poured": "60 ml",
                    "colours": [{"recipe": blue.recipe.pk, "share": 1}],
                }
            ],
        },
    )  # fmt: skip
    plan = made["plan"]
    assert plan["lines"][0]["poured"]["amount"] == 60_000
    kept = {each["material"]["name"]: (each["version_number"], each["lot"]) for each in plan["sources"]}
    assert kept == {"Tide Blue": (1, None), "Board": (None, lot.pk)}


amounts = st.integers(1, 500_000)


@examples(max_examples=12)
@given(pours=st.lists(st.tuples(st.integers(1, 9), amounts, amounts), min_size=1, max_size=4))
def test_cups_come_to_what_is_set_for_each_pour_to_the_thousandth(pours: list[tuple[int, int, int]]) -> None:
    board = make_surface(depth=None, sides_painted=False)
    first, second = make_material(), make_material()
    lines = [
        PlanLineFacts(board, count, the_technique(), [(first, one), (second, two)], poured=one + two)
        for count, one, two in pours
    ]
    plan = make_plan(*lines, extra_paint=0)
    answer = answer_of(Plan.objects.with_lines().get(pk=plan.pk), today=TODAY)
    needed = {need.material.pk: need.needed for need in answer.needs}
    assert needed[first.pk] == sum(count * one for count, one, _two in pours)
    assert needed[second.pk] == sum(count * two for count, _one, two in pours)
