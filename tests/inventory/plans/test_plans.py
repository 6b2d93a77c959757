"""Saved plans: what they reserve, what is free on a day, what they become."""

from dataclasses import replace
from datetime import timedelta

import pytest
from django.db import IntegrityError, connection, transaction
from django.test.utils import CaptureQueriesContext

from inventory.errors import NotEnough
from inventory.ledger.models import Lot
from inventory.materials.models import Kind, Material
from inventory.plans.actions import AlreadyPoured, PlanFacts, copy_plan, facts_of, pour_plan, save_plan
from inventory.plans.models import Plan, PlanColour, PlanLine
from inventory.plans.queries import Promises, answer_of, outcome_of, stand_ins
from inventory.recipes.models import RecipeVersion
from inventory.sessions.actions.corrections import correct_session
from inventory.sessions.actions.sessions import SessionFacts
from inventory.sessions.models import Technique
from inventory.sessions.queries.planning import Answer
from inventory.stock.availability import StockFigures, free_from
from studio.auditing.edit_conflicts import EditConflict
from studio.auditing.queries import history, last_change_number
from studio.errors import InputError
from studio.preferences.models import Studio
from tests.days import DAY, TODAY
from tests.making import (
    make_batch,
    make_lot,
    make_material,
    make_order,
    make_plan,
    make_recipe,
    make_submission,
    make_supplier,
    make_surface,
    make_water,
    planned_line,
    pour_of,
    take_back,
    units,
)

pytestmark = pytest.mark.django_db
NEXT_WEEK = TODAY + timedelta(days=7)


def boards(count: int) -> int:
    """What so many boards take."""
    return count * units(90)


@pytest.fixture(autouse=True)
def rates(db: None) -> None:
    """Ring pours take 0.1 mL/cm², and nothing extra: a board of 900 cm² takes 90 mL."""
    Technique.objects.update(coverage=100)
    Studio.objects.update(reserve=0)


@pytest.fixture
def board(rates: None) -> Material:
    """Fifty boards of 30 × 30 cm without painted sides."""
    board = make_surface(name="Board", depth=None, sides_painted=False)
    make_lot(material=board, quantity=units(50))
    return board


@pytest.fixture
def paint(rates: None) -> Material:
    """White for 25 boards."""
    return make_lot(material=make_material(name="White"), quantity=boards(25)).material


def white_figures(material: Material, on: object = TODAY) -> StockFigures:
    return Promises(TODAY).on(on)[material.pk]  # type: ignore[arg-type]


def short_of(answer: Answer) -> dict[str, int]:
    return {need.material.name: need.short for need in answer.needs if need.short}


def medium() -> RecipeVersion:
    """Home-made medium: 2 parts glue to 1 of water (common practice, no source)."""
    glue = make_material(name="Glue", kind=Kind.MEDIUM)
    made = make_material(name="Loft medium", kind=Kind.MEDIUM)
    return make_recipe(parts=[(glue, 2), (make_water(), 1)], makes=made)


def day(number: int) -> object:
    return TODAY + timedelta(days=number)


@pytest.mark.parametrize(("asked", "free"), [(3, 300), (11, 300), (15, 300)])
def test_what_is_free_on_a_day_is_never_missed_later(asked: int, free: int) -> None:
    """Held 1,000; 300 go on day 5, 500 come on day 10, 900 go on day 12 (worked out by hand)."""
    reserved = [(day(5), 300), (day(12), 900)]
    assert free_from(day(asked), 1000, arrivals=[(day(10), 500)], reserved=reserved) == free  # type: ignore[arg-type, list-item]


def test_what_comes_too_late_leaves_a_plan_short() -> None:
    reserved = [(day(5), 300), (day(12), 900)]
    assert free_from(day(3), 1000, arrivals=[(day(14), 500)], reserved=reserved) == -200  # type: ignore[arg-type, list-item]


def test_a_plan_reserves_what_it_needs_until_it_is_poured_or_deleted(
    board: Material, paint: Material
) -> None:
    plan = make_plan(planned_line(board, 10, paint), on=NEXT_WEEK)
    assert white_figures(paint) == StockFigures(
        held=boards(25), reserved=boards(10), due=0, available=boards(15)
    )
    assert white_figures(board).available == units(40)
    plan.delete()
    assert white_figures(paint).available == boards(25)


def test_orders_count_from_the_day_they_are_expected(board: Material, paint: Material) -> None:
    make_order((paint, units(500)), on=TODAY, expected_on=TODAY + 3 * DAY)
    assert white_figures(paint, TODAY + 2 * DAY) == StockFigures(
        held=boards(25), reserved=0, due=0, available=boards(25)
    )
    assert white_figures(paint, TODAY + 3 * DAY).due == units(500)
    assert white_figures(paint, TODAY + 3 * DAY).available == boards(25) + units(500)


def test_an_order_that_is_late_is_not_counted_on_today(paint: Material) -> None:
    make_order((paint, units(500)), on=TODAY - 9 * DAY, expected_on=TODAY - DAY)
    assert white_figures(paint, TODAY).due == 0
    assert white_figures(paint, TODAY + DAY).due == units(500)


def test_the_plan_that_comes_first_has_what_it_needs_and_the_later_one_is_short(
    board: Material, paint: Material
) -> None:
    late = make_plan(planned_line(board, 15, paint), on=NEXT_WEEK)
    early = make_plan(planned_line(board, 15, paint), on=TODAY + DAY)
    assert short_of(answer_of(early, today=TODAY)) == {}
    assert short_of(answer_of(late, today=TODAY)) == {"White": boards(5)}
    assert Promises(TODAY).short() == {early.pk: {}, late.pk: {paint.pk: boards(5)}}
    answer = answer_of(late, today=TODAY)
    assert (answer.at_most.most.total, answer.at_most.most.is_proven) == (10, True)
    need = next(need for need in answer.needs if need.material == paint)
    assert (need.held, need.reserved, need.due, need.available) == (boards(25), boards(15), 0, boards(10))


def test_what_is_mixed_already_goes_to_the_first_plan(board: Material) -> None:
    version = medium()
    made = version.recipe.makes
    glue = version.parts.all()[0].material
    make_lot(material=glue, quantity=units(1000))
    make_batch(version=version, quantity=boards(6))  # of 360 mL of glue
    make_plan(planned_line(board, 5, made), on=TODAY + DAY)  # all of it mixed already
    make_plan(
        planned_line(board, 5, made), on=NEXT_WEEK
    )  # one board's is left; four more take 240 mL of glue
    figures = Promises(TODAY).on(TODAY)
    assert (figures[made.pk].reserved, figures[made.pk].available) == (boards(6), 0)
    assert figures[glue.pk].reserved == units(240)
    assert figures[glue.pk].held == units(640)


def test_what_goes_off_before_the_day_is_not_counted(board: Material, paint: Material) -> None:
    Lot.objects.filter(material=paint).update(best_before=TODAY + DAY)
    plan = make_plan(planned_line(board, 1, paint), on=NEXT_WEEK)
    assert short_of(answer_of(plan, today=TODAY)) == {"White": boards(1)}
    save_plan(
        facts=PlanFacts("Kept", NEXT_WEEK, facts_of(plan).lines, include_expired=True),
        submission=make_submission(),
        plan=plan,
    )
    assert answer_of(Plan.objects.with_lines().get(), today=TODAY).is_enough


def test_a_plan_may_be_enough_without_the_extra_paint(board: Material, paint: Material) -> None:
    plan = make_plan(planned_line(board, 25, paint), extra_paint=100_000)
    answer = answer_of(plan, today=TODAY)
    assert (answer.is_enough, answer.is_enough_without_extra) == (False, True)
    assert short_of(answer) == {"White": boards(25) // 10}
    more = make_plan(planned_line(board, 26, paint), extra_paint=100_000)
    plan.delete()
    assert not answer_of(more, today=TODAY).is_enough_without_extra


def test_the_answer_has_the_mixes_on_the_way(board: Material) -> None:
    version = medium()
    make_lot(material=version.parts.all()[0].material, quantity=units(1000))
    make_batch(version=version, quantity=units(30))
    (row,) = answer_of(make_plan(planned_line(board, 1, version.recipe.makes)), today=TODAY).made
    assert (row.material, row.needed, row.held, row.to_mix) == (
        version.recipe.makes, units(90), units(30), units(60),
    )  # fmt: skip


def test_what_is_alike_could_stand_in(board: Material) -> None:
    blue = make_material(name="Tide blue", colour="#1f5f6b")
    same = make_lot(material=make_material(name="Quay blue", colour="#1F5F6B"), quantity=units(90)).material
    make_lot(material=make_material(name="Red", colour="#aa0000"), quantity=units(90))
    make_material(name="Blue of which there is none", colour="#1f5f6b")
    plan = make_plan(planned_line(board, 1, blue))
    found = stand_ins(answer_of(plan, today=TODAY), Promises(TODAY).on(TODAY))
    assert [(each.instead_of, each.material, each.available) for each in found] == [(blue, same, units(90))]


def test_a_mix_that_lacks_its_medium_may_be_poured_in_another_of_the_same_colour(board: Material) -> None:
    version = medium()
    blue = make_lot(material=make_material(name="Blue"), quantity=units(500)).material
    planned = make_material(name="Blue in glue", kind=Kind.MIX, colour="#1f5f6b")
    make_recipe(parts=[(blue, 1), (version.recipe.makes, 1)], makes=planned)
    ready = make_material(name="Blue in gel", kind=Kind.MIX, colour="#1f5f6b")
    gel = make_lot(material=make_material(name="Gel", kind=Kind.MEDIUM), quantity=units(700)).material
    make_batch(version=make_recipe(parts=[(blue, 1), (gel, 1)], makes=ready), quantity=units(60))
    plan = make_plan(planned_line(board, 1, planned))
    found = stand_ins(answer_of(plan, today=TODAY), Promises(TODAY).on(TODAY))
    pairs = [(each.instead_of.name, each.material.name) for each in found]
    assert ("Glue", "Gel") in pairs
    assert ("Blue in glue", "Blue in gel") in pairs


# Changing


def test_it_says_everything_that_is_wrong_with_a_plan(board: Material, paint: Material) -> None:
    with pytest.raises(InputError) as refused:
        PlanFacts(name=" ", planned_on=TODAY, lines=[], extra_paint=-1)
    assert {each.field for each in refused.value.problems} == {"name", "lines", "extra_paint"}
    lines: list[tuple[Material, int, list[Material]]] = [
        (paint, 1, [paint]),
        (board, 0, [paint]),
        (board, 1000, [paint]),
        (board, 1, []),
        (board, 1, [board]),
        (board, 1, [make_water()]),
        (board, 1, [paint, paint]),
    ]
    for surface, count, colours in lines:
        with pytest.raises(InputError):
            planned_line(surface, count, *colours)


def test_a_change_is_recorded_and_a_stale_one_refused(board: Material, paint: Material) -> None:
    plan = make_plan(planned_line(board, 3, paint))
    seen = last_change_number(Plan, plan.pk)
    five = PlanFacts("Harbour lights", NEXT_WEEK, [planned_line(board, 5, paint)])
    save_plan(facts=five, submission=make_submission(), plan=plan, seen=seen)
    assert [line.count for line in plan.lines.all()] == [5]
    assert {change.field for change in history(Plan, plan.pk)} >= {"planned_on", "lines"}
    with pytest.raises(EditConflict):
        save_plan(facts=five, submission=make_submission(), plan=plan, seen=seen)


def test_the_same_form_sent_twice_keeps_one_plan(board: Material, paint: Material) -> None:
    facts = PlanFacts("Lamps", TODAY, [planned_line(board, 3, paint)])
    twice = [save_plan(facts=facts, submission=make_submission(key="once")) for _ in range(2)]
    assert twice[0] == twice[1]
    assert Plan.objects.count() == 1


def test_a_copy_is_a_plan_of_its_own_for_another_day(board: Material, paint: Material) -> None:
    plan = Plan.objects.with_lines().get(pk=make_plan(planned_line(board, 3, paint), notes="Rim first").pk)
    copied = Plan.objects.with_lines().get(
        pk=copy_plan(plan=plan, on=NEXT_WEEK, submission=make_submission()).pk
    )
    assert facts_of(copied) == facts_of(plan, on=NEXT_WEEK)


# Pouring


def poured(plan: Plan, paint: Material, board: Material, count: int = 3) -> Plan:
    facts = SessionFacts(
        held_on=TODAY,
        pours=[pour_of(material=paint, quantity=units(45), surface=board) for _ in range(count)],
    )
    pour_plan(plan=plan, facts=facts, submission=make_submission(key="poured"))
    return Plan.objects.with_lines().get(pk=plan.pk)


def test_a_poured_plan_stands_beside_its_session_and_reserves_nothing_more(
    board: Material, paint: Material
) -> None:
    plan = poured(make_plan(planned_line(board, 4, paint)), paint, board)
    outcome = outcome_of(plan)
    assert outcome is not None
    assert (outcome.pours_planned, outcome.pours) == (4, 3)
    assert (outcome.paint_planned, outcome.paint) == (boards(4), units(135))
    by_name = {row.material.name: (row.planned, row.used, row.difference) for row in outcome.materials}
    assert by_name == {
        "White": (boards(4), units(135), -units(225)),
        "Board": (units(4), units(3), -units(1)),
    }
    assert outcome.cost_planned is not None
    assert outcome.cost_planned > outcome.cost > 0
    assert white_figures(paint).reserved == 0


def test_a_poured_plan_is_poured_once_and_changed_no_more(board: Material, paint: Material) -> None:
    plan = poured(make_plan(planned_line(board, 4, paint)), paint, board)
    first = plan.session
    assert poured(plan, paint, board).session == first  # the same form sent once more
    with pytest.raises(AlreadyPoured):
        pour_plan(
            plan=plan,
            facts=SessionFacts(
                held_on=TODAY, pours=[pour_of(material=paint, quantity=units(40), surface=board)]
            ),
            submission=make_submission(key="other"),
        )
    with pytest.raises(AlreadyPoured):
        save_plan(facts=facts_of(plan), submission=make_submission(), plan=plan)


def test_a_plan_whose_session_is_reversed_waits_again(board: Material, paint: Material) -> None:
    plan = poured(make_plan(planned_line(board, 4, paint)), paint, board)
    take_back(plan.session.posting)  # type: ignore[union-attr]
    plan = Plan.objects.with_lines().get(pk=plan.pk)
    assert not plan.is_poured
    assert outcome_of(plan) is None
    assert white_figures(paint).reserved == boards(4)
    facts = SessionFacts(held_on=TODAY, pours=[pour_of(material=paint, quantity=units(50), surface=board)])
    pour_plan(plan=plan, facts=facts, submission=make_submission(key="once more"))
    again = outcome_of(Plan.objects.with_lines().get(pk=plan.pk))
    assert again is not None
    assert (again.pours, again.paint_planned) == (1, boards(4))


def test_a_corrected_session_is_held_against_the_plan_as_it_was_corrected(
    board: Material, paint: Material
) -> None:
    plan = poured(make_plan(planned_line(board, 4, paint)), paint, board)
    session = plan.session
    assert session is not None
    kept = [
        replace(pour_of(material=paint, quantity=units(40), surface=board), pour=pour)
        for pour in session.pours.order_by("number")[:2]
    ]
    facts = SessionFacts(held_on=TODAY, pours=kept)
    correct_session(session=session, facts=facts, submission=make_submission())
    outcome = outcome_of(plan)
    assert outcome is not None
    assert (outcome.pours, outcome.paint) == (2, units(80))
    assert {row.material.name: row.used for row in outcome.materials} == {
        "White": units(80),
        "Board": units(2),
    }


def test_a_session_that_is_refused_leaves_the_plan_as_it_was(board: Material, paint: Material) -> None:
    plan = make_plan(planned_line(board, 4, paint))
    facts = SessionFacts(held_on=TODAY, pours=[pour_of(material=paint, quantity=units(9000), surface=board)])
    with pytest.raises(NotEnough):
        pour_plan(plan=plan, facts=facts, submission=make_submission())
    plan.refresh_from_db()
    assert (plan.session, plan.planned_materials.count()) == (None, 0)


# The database's own rules


@pytest.mark.parametrize("extra_paint", [-1, 1_000_001])
def test_the_database_refuses_more_extra_paint_than_there_is_paint(
    board: Material, paint: Material, extra_paint: int
) -> None:
    plan = make_plan(planned_line(board, 4, paint))
    with pytest.raises(IntegrityError), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute("UPDATE inventory_plan SET extra_paint = %s WHERE id = %s", [extra_paint, plan.pk])


def test_the_database_refuses_lines_and_colours_that_make_no_sense(board: Material, paint: Material) -> None:
    make_plan(planned_line(board, 4, paint))
    for rows, change in ((PlanLine.objects.all(), {"count": 0}), (PlanColour.objects.all(), {"share": 0})):
        with pytest.raises(IntegrityError), transaction.atomic():
            rows.update(**change)


def test_what_plans_reserve_takes_the_same_few_queries_however_many_there_are(
    board: Material, paint: Material
) -> None:
    def queries() -> int:
        with CaptureQueriesContext(connection) as seen:
            Promises(TODAY).on(TODAY)
        return len(seen)

    make_plan(planned_line(board, 1, paint))
    supplier = make_supplier()
    make_order((paint, units(5)), on=TODAY, supplier=supplier)
    few = queries()
    for number in range(8):
        make_plan(
            planned_line(board, 1, paint, make_material()),
            planned_line(board, 2, paint),
            on=TODAY + number * DAY,
        )
        make_order((paint, units(5)), on=TODAY, supplier=supplier)
    assert queries() == few <= 16
