"""What was done at the bench becomes the session of its plan, once."""

from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from inventory.bench.actions import BenchFacts, CupWork, LineWork
from inventory.bench.calculations import Touch, TouchKind
from inventory.ledger.models import Entry, Lot, Place, Posting
from inventory.materials.models import Material
from inventory.plans.models import Plan
from inventory.sessions.models import Session
from inventory.sessions.queries.session_costs import account_of
from studio.accounts.models import User
from studio.errors import InputError
from tests.making import held, make_lot, make_surface, spill, the_technique, units
from tests.programs import Program

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("books_hold")]


@pytest.fixture
def program(owner: User, plan: Plan) -> Program:
    make_lot(material=plan.lines.get().surface, quantity=units(50), cost=20_000_000)
    return Program(owner)


def done(program: Program, plan: Plan, *touches: dict[str, Any], **more: Any) -> dict[str, Any]:
    """What the page sends."""
    work = program.read(f"benches/{plan.pk}/")["work"]
    body = {
        "plan": plan.pk,
        "held_on": timezone.localdate().isoformat(),
        "work": work,
        "touches": list(touches),
    }
    return body | more


def poured(pour: int, what: str = "poured") -> dict[str, Any]:
    return {"what": what, "pour": pour}


ALL = [poured(1), poured(2, "failed"), poured(3), poured(4)]


def test_it_is_read_step_by_step(program: Program, plan: Plan) -> None:
    bench = program.read(f"benches/{plan.pk}/")
    assert [(cup["cup"], cup["total"]["amount"]) for cup in bench["cups"]] == [
        ("A", units(180)),
        ("B", units(180)),
    ]
    kinds = [step["kind"] for step in bench["steps"]]
    assert kinds == [
        "ready",
        "zero",
        "add",
        "add",
        "add",
        "stir",
        "zero",
        "add",
        "rest",
        *["pour"] * 4,
        "finish",
    ]
    assert bench["steps"][-2]["text"].replace("\xa0", " ").endswith("Pour 90 mL on each: A 45 mL, B 45 mL.")
    assert bench["mixing_sheet"].endswith("/mixing-sheet.pdf")


def test_touches_become_pours_with_their_outcomes(program: Program, plan: Plan) -> None:
    answer = program.send(
        "benches/", done(program, plan, *ALL, leftover="residue", minutes=40), key="bench-1"
    )
    session = Session.objects.get()
    assert (answer["key"], answer["session"]) == ("bench-1", session.pk)
    assert (session.minutes, session.title) == (40, plan.name)
    assert [pour.outcome for pour in session.pours.order_by("number")] == ["open", "failed", "open", "open"]
    assert {pour.poured for pour in session.pours.all()} == {units(90)}
    plan.refresh_from_db()
    assert plan.session == session
    # 60 mL of the blue came out of its jar, 120 mL were mixed; all of it was poured.
    (mix,) = account_of(session).mixes
    assert (mix.made, mix.poured, mix.left) == (units(120), units(120), 0)
    blue = mix.mix.version.recipe.makes
    assert sum(held(lot)[0] for lot in Lot.objects.filter(material=blue)) == 0


def test_a_spill_is_a_loss_and_the_next_surface_takes_what_is_left(program: Program, plan: Plan) -> None:
    dropped = {"what": "spilled", "cup": 1, "quantity": units(120)}
    program.send("benches/", done(program, plan, poured(1), dropped, poured(2)), key="bench-1")
    session = Session.objects.get()
    # 45 of 180 mL blue on the first board, 120 on the floor: 15 are left for the second, and 45 of the white.
    assert [pour.poured for pour in session.pours.order_by("number")] == [units(90), units(60)]
    lost = Entry.objects.filter(place=Place.LOSS, reason__code="spilled")
    assert sum(entry.quantity for entry in lost) == units(120)


def test_the_same_bench_sent_again_posts_nothing_more(program: Program, plan: Plan) -> None:
    body = done(program, plan, *ALL)
    first = program.send("benches/", body, key="bench-1")
    postings = Posting.objects.count()
    again = program.post("benches/", body, key="bench-1")
    assert (again.status_code, again.json()) == (200, first)
    assert Posting.objects.count() == postings


def test_another_bench_of_a_plan_that_was_poured_is_refused(program: Program, plan: Plan) -> None:
    body = done(program, plan, *ALL)
    program.send("benches/", body, key="bench-1")
    refusal = program.post("benches/", body, key="bench-2")
    assert (refusal.status_code, refusal.json()["type"].rpartition(":")[2]) == (409, "already-poured")
    assert Session.objects.count() == 1
    assert program.client.get(f"/api/benches/{plan.pk}/").status_code == 409


def test_what_is_short_is_listed_and_one_confirmation_logs_it(program: Program, plan: Plan) -> None:
    body = done(program, plan, *ALL)
    spill(
        lot=Lot.objects.get(material__name="Chalk White"),
        quantity=units(900),
        on=timezone.localdate(),
        at=timezone.now(),
    )
    refusal = program.refusal("benches/", body, key="bench-1", status=409)
    assert [each["short"]["amount"] for each in refusal["shortfalls"]] == [units(80)]
    assert refusal["shortfalls"][0]["detail"] in refusal["detail"]
    assert not Session.objects.exists()
    program.send("benches/", body | {"confirm_gain": True}, key="bench-1")
    assert Session.objects.count() == 1


@pytest.mark.parametrize(
    ("touches", "line"),
    [
        ([poured(1), poured(1)], 2),
        ([poured(5)], 1),
        ([{"what": "poured"}], 1),
        ([{"what": "spilled", "cup": 3, "quantity": 1}], 1),
    ],
)
def test_a_touch_that_cannot_be_is_refused(
    program: Program, plan: Plan, touches: list[dict[str, Any]], line: int
) -> None:
    refusal = program.post("benches/", done(program, plan, *touches), key="bench-1")
    assert refusal.status_code == 400
    assert len(refusal.json()["errors"]["touches"]) == line


def test_a_dose_from_a_cup_that_is_not_there_is_refused(plan: Plan) -> None:
    white = Material.objects.get(name="Chalk White")
    line = LineWork(make_surface(), the_technique(), 1, [(1, 100)])
    with pytest.raises(InputError) as refusal:
        BenchFacts(
            timezone.localdate(), [CupWork(white, ready=100)], [line], [Touch(TouchKind.POURED, pour=0)]
        )
    assert (refusal.value.rows, refusal.value.line) == ("lines", 1)


def test_reading_a_bench_asks_no_more_for_more_surfaces(program: Program, plan: Plan) -> None:
    def asked() -> int:
        with CaptureQueriesContext(connection) as queries:
            program.read(f"benches/{plan.pk}/")
        return len(queries)

    before = asked()
    plan.lines.update(count=20)
    assert asked() == before
