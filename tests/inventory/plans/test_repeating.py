"""Pours made once more exactly: what was, what has changed since, and what she chooses."""

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import pytest
from django.urls import reverse
from hypothesis import given
from hypothesis import settings as examples
from hypothesis import strategies as st

from inventory.ledger.models import Lot
from inventory.materials.actions import save_material
from inventory.materials.models import Kind, Material
from inventory.plans.models import Plan
from inventory.plans.queries import answer_of
from inventory.plans.repeating.changes import Change
from inventory.plans.repeating.repeats import ThenAndNow, pours_to_repeat, repeat_pours, then_and_now
from inventory.recipes.actions.mixes import MixFacts, planned
from inventory.recipes.actions.recipes import write_version
from inventory.recipes.models import RecipeVersion
from inventory.sessions.actions.sessions import Dose, PourFacts
from inventory.sessions.models import Pour, Session
from studio.accounts.models import User
from studio.errors import InputError
from studio.preferences.models import Studio
from tests.days import DAY, TODAY
from tests.inventory.browsing import as_user, filled_in, queries, text_of
from tests.making import (
    make_lot,
    make_material,
    make_recipe,
    make_session,
    make_submission,
    make_surface,
    spill,
    take_back,
    the_technique,
    units,
)
from tests.programs import Program

pytestmark = pytest.mark.django_db


@pytest.fixture
def board() -> Material:
    board = make_surface(name="Board", depth=None, sides_painted=False)
    make_lot(material=board, quantity=units(50))
    return board


@pytest.fixture
def blue() -> RecipeVersion:
    """Tide Blue: 1 blue to 1 medium, a litre of each in stock."""
    paint = make_material(name="Blue", colour="#1f5f6b")
    medium = make_material(name="Medium", kind=Kind.MEDIUM)
    for material in (paint, medium):
        make_lot(material=material)
    makes = make_material(name="Tide Blue", kind=Kind.MIX)
    return make_recipe(parts=[(paint, 1), (medium, 1)], makes=makes, name="Tide Blue")


def poured(board: Material, version: RecipeVersion, *amounts: int, **facts: Any) -> Session:
    """A session of one mix, so much of it on each board."""
    mix = MixFacts(version=version, ingredients=planned(version, sum(amounts) + units(20)))
    pours = [
        PourFacts(technique=the_technique(), doses=[Dose(amount, mix=0)], surface=board) for amount in amounts
    ]
    return make_session(mixes=[mix], pours=pours, **facts)


def rewritten(version: RecipeVersion, *parts: int) -> RecipeVersion:
    materials = [part.material for part in version.parts.all()]
    return write_version(
        recipe=version.recipe,
        parts=[(material, part * 1000) for material, part in zip(materials, parts, strict=True)],
        basis="volume",
        submission=make_submission(),
    )


def document_of(pours: Sequence[Pour]) -> ThenAndNow:
    numbers = [pour.pk for pour in pours]
    return then_and_now(pours_to_repeat(numbers=numbers), studio=Studio.current(), today=TODAY)


def changes_of(session: Session) -> dict[str, Change]:
    return {change.name: change for change in document_of(list(session.pours.all())).changes}


def repeated(session: Session, **choices: str) -> Plan:
    plan = repeat_pours(
        pours=pours_to_repeat(session=session.pk),
        name="Once more",
        on=TODAY,
        choices={name.replace("_", "-"): value for name, value in choices.items()},
        submission=make_submission(on=TODAY),
    )
    return Plan.objects.with_lines().get(pk=plan.pk)


def parts_of(plan: Plan) -> dict[str, int | None]:
    (cup,) = answer_of(plan, today=TODAY).cups
    return {part.material.name: part.volume for part in cup.parts}


def test_a_recipe_that_changed_is_shown_then_and_now_and_is_used_as_it_was(
    board: Material, blue: RecipeVersion
) -> None:
    session = poured(board, blue, units(60), units(60))
    spill(lot=session.mixes.get().lot, quantity=units(20))
    newer = rewritten(blue, 1, 3)
    change = changes_of(session)[f"version-{blue.recipe.makes_id}"]
    assert "1 Blue, 1 Medium" in change.then
    assert "1 Blue, 3 Medium" in change.now
    assert [option.value for option in change.options] == ["then", "now"]
    plan = repeated(session)
    assert plan.kept_versions == [blue]
    assert parts_of(plan) == {"Blue": units(60), "Medium": units(60)}
    plan.delete()
    choice = {f"version_{blue.recipe.makes_id}": "now"}
    assert parts_of(repeated(session, **choice)) == {"Blue": units(30), "Medium": units(90)}
    assert newer.number == 2


def test_an_unchanged_session_has_nothing_to_choose_but_the_amount(
    board: Material, blue: RecipeVersion
) -> None:
    session = poured(board, blue, units(60))
    assert set(changes_of(session)) <= {"amounts"}


def test_the_same_lots_are_taken_where_they_still_hold_something(
    board: Material, blue: RecipeVersion
) -> None:
    session = poured(board, blue, units(60))
    first = Lot.objects.get(material__name="Blue")
    second = make_lot(material=first.material)
    assert first in repeated(session).kept_lots
    Plan.objects.all().delete()
    first.refresh_from_db()
    spill(lot=first, quantity=first.balance.quantity)
    change = changes_of(session)[f"lot-{first.material_id}"]
    assert change.then == first.label
    assert second.label in change.now
    assert not change.options
    assert {lot.material.name for lot in repeated(session).kept_lots}.isdisjoint({"Blue"})


def test_an_expired_lot_is_taken_only_when_she_says_so(board: Material, blue: RecipeVersion) -> None:
    session = poured(board, blue, units(60))
    lot = Lot.objects.get(material__name="Blue")
    Lot.objects.filter(pk=lot.pk).update(best_before=TODAY - DAY)
    make_lot(material=lot.material)
    change = changes_of(session)[f"lot-{lot.material_id}"]
    assert [option.value for option in change.options] == ["now", "then"]
    plan = repeated(session)
    assert lot not in plan.kept_lots
    assert not plan.include_expired
    plan = repeated(session, **{f"lot_{lot.material_id}": "then"})
    assert lot in plan.kept_lots
    assert plan.include_expired


def test_a_surface_that_is_gone_is_named_with_the_nearest_other(board: Material, blue: RecipeVersion) -> None:
    session = poured(board, blue, units(60))
    lot = Lot.objects.get(material=board)
    spill(lot=lot, quantity=units(49))
    other = make_surface(name="Other board", depth=None, sides_painted=False)
    make_lot(material=other, quantity=units(5))
    change = changes_of(session)[f"material-{board.pk}"]
    assert change.is_gone
    assert [option.value for option in change.options] == ["then", str(other.pk)]
    plan = repeated(session, **{f"material_{board.pk}": str(other.pk)})
    assert plan.lines.get().surface == other


def test_an_ingredient_that_is_gone_is_named_with_the_nearest_other(
    board: Material, blue: RecipeVersion
) -> None:
    session = poured(board, blue, units(60))
    medium = Lot.objects.get(material__name="Medium")
    make_lot(material=make_material(name="Loft medium", kind=Kind.MEDIUM))
    spill(lot=medium, quantity=medium.balance.quantity)
    spill(lot=session.mixes.get().lot, quantity=units(20))
    change = changes_of(session)[f"material-{medium.material_id}"]
    assert change.is_gone
    assert "Loft medium" in change.now
    assert not change.options


def test_a_density_and_a_technique_changed_since_are_told(
    board: Material, blue: RecipeVersion, owner: User
) -> None:
    session = poured(board, blue, units(60))
    paint = Material.objects.get(name="Blue")
    paint.density = 1_250_000
    save_material(paint, submission=make_submission(by=owner))
    technique = the_technique()
    technique.coverage = 333
    technique.save()
    changes = changes_of(session)
    assert "1.25" in changes[f"density-{paint.pk}"].now
    assert "0.333" in changes[f"technique-{technique.pk}"].now


def test_a_mix_that_was_not_as_its_recipe_says_is_told(board: Material, blue: RecipeVersion) -> None:
    paint, medium = planned(blue, units(80))
    mixed = MixFacts(version=blue, ingredients=[replace(paint, quantity=units(30)), medium])
    pour = PourFacts(technique=the_technique(), doses=[Dose(units(60), mix=0)], surface=board)
    session = make_session(mixes=[mixed], pours=[pour])
    change = changes_of(session)[f"mixed-{blue.recipe.makes_id}"]
    assert change.then == "30\xa0mL Blue, 40\xa0mL Medium"
    assert f"mixed-{blue.recipe.makes_id}" not in changes_of(poured(board, blue, units(60)))


def test_what_is_not_offered_is_refused_and_writes_nothing(board: Material, blue: RecipeVersion) -> None:
    session = poured(board, blue, units(60))
    with pytest.raises(InputError):
        repeated(session, version_1="now")
    assert not Plan.objects.exists()


def test_the_same_submission_makes_one_plan(board: Material, blue: RecipeVersion) -> None:
    session, submission = poured(board, blue, units(60)), make_submission(key="once", on=TODAY)
    pours = pours_to_repeat(session=session.pk)
    plans = [repeat_pours(pours=pours, name="Once", on=TODAY, submission=submission) for _twice in range(2)]
    assert plans[0] == plans[1]
    assert Plan.objects.count() == 1


def test_pours_of_a_reversed_session_are_not_repeated(
    board: Material, blue: RecipeVersion, owner: User
) -> None:
    session = poured(board, blue, units(60))
    take_back(session.posting)
    assert pours_to_repeat(session=session.pk) == []
    address = f"{reverse('inventory:plan-repeat')}?session={session.pk}"
    assert as_user(owner).get(address).status_code == 302


def test_the_page_shows_the_change_and_makes_the_plan(
    board: Material, blue: RecipeVersion, owner: User
) -> None:
    session = poured(board, blue, units(60), units(60), title="Harbour")
    rewritten(blue, 1, 3)
    client, address = as_user(owner), f"{reverse('inventory:plan-repeat')}?session={session.pk}"
    page = client.get(address)
    assert "1 Blue, 3 Medium" in text_of(page)
    sent = filled_in(page, "planned_on")
    answer = client.post(address, sent)
    plan = Plan.objects.get()
    assert answer.headers["Location"] == reverse("inventory:plan", args=[plan.pk])
    assert (plan.name, plan.kept_versions) == ("Harbour", [blue])
    quick = client.get(f"{reverse('inventory:session-new')}?repeat={session.pk}")
    assert "version 1 → 2" in text_of(quick)
    assert address in quick.content.decode()


def test_programs_read_then_and_now_and_make_the_plan(
    board: Material, blue: RecipeVersion, owner: User
) -> None:
    session = poured(board, blue, units(60))
    rewritten(blue, 1, 3)
    program, pours = Program(owner), [pour.pk for pour in session.pours.all()]
    document = program.send("then-and-now/", {"pours": pours}, status=200)
    name = f"version-{blue.recipe.makes_id}"
    assert name in [change["name"] for change in document["changes"]]
    body = {
        "session": session.pk, "name": "Again", "planned_on": TODAY.isoformat(), "choices": {name: "now"},
    }  # fmt: skip
    made = program.send("repeats/", body)
    assert blue.pk not in [source["version"] for source in made["plan"]["sources"]]
    program.refusal("repeats/", body | {"choices": {"version-0": "now"}}, status=400)
    program.refusal("then-and-now/", {"pours": pours, "session": session.pk}, status=400)


def test_more_pours_take_no_more_queries(board: Material, blue: RecipeVersion, owner: User) -> None:
    first = poured(board, blue, units(10))
    more = poured(board, blue, *([units(10)] * 3), *([units(11)] * 3))
    client, address = as_user(owner), reverse("inventory:plan-repeat")
    client.get(f"{address}?session={first.pk}")
    assert queries(client, f"{address}?session={more.pk}") <= queries(client, f"{address}?session={first.pk}")


amounts = st.integers(1, 60_000)


@examples(max_examples=10)
@given(doses=st.lists(st.tuples(amounts, amounts), min_size=1, max_size=5))
def test_an_unchanged_session_repeated_gives_cups_that_equal_what_was_poured(
    doses: list[tuple[int, int]],
) -> None:
    """To the thousandth, whatever was mixed too much that day."""
    board, straight = make_surface(), make_lot().material
    make_lot(material=board, quantity=units(20))
    version = make_recipe(parts=[(make_lot().material, 2), (make_lot().material, 1)])
    mixed = sum(mixed for mixed, _plain in doses)
    session = make_session(
        mixes=[MixFacts(version=version, ingredients=planned(version, mixed + 7_000), leftover="discarded")],
        pours=[
            PourFacts(
                technique=the_technique(),
                doses=[Dose(mix, mix=0), Dose(plain, material=straight)],
                surface=board,
            )
            for mix, plain in doses
        ],
    )
    plan = repeated(session)
    answer = answer_of(plan, today=TODAY)
    (cup,) = answer.cups
    assert cup.total == mixed
    assert cup.version == version
    needed = {need.material: need.needed for need in answer.needs}
    assert needed[straight] == sum(plain for _mixed, plain in doses)
    assert needed[board] == units(len(doses))
    assert [need.paint for need in answer.lines] == [
        need.line.count * (need.line.poured or 0) for need in answer.lines
    ]
    plan.delete()
