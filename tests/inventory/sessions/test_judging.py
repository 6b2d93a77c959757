"""A pour is not judged until somebody judges it: wet, and again dry, with any number of flaws."""

from typing import Any

import pytest
from django.db import IntegrityError, connection, transaction
from django.test import Client
from django.urls import reverse

from inventory.errors import InventoryError
from inventory.sessions.actions.judging import JudgementFacts, judge_pours
from inventory.sessions.models import Flaw, JudgedFlaw, Pour, PourJudgement, Session
from studio.accounts.models import User
from studio.errors import InputError
from tests.inventory.browsing import HOSTILE, queries, text_of
from tests.inventory.comparisons.boards import Boards, make_comparison
from tests.making import (
    make_delivery,
    make_material,
    make_pour,
    make_session,
    make_submission,
    money,
    pour_of,
    sell,
    take_back,
    units,
)
from tests.programs import Program

pytestmark = pytest.mark.django_db


def judge(pour: Pour, outcome: str, stage: str = "wet", flaws: tuple[str, ...] = (), notes: str = "") -> Pour:
    facts = JudgementFacts(pour, outcome, stage, [Flaw.objects.get(name=name) for name in flaws], notes)
    judge_pours(judgements=[facts], submission=make_submission())
    pour.refresh_from_db()
    return pour


def test_a_logged_pour_is_not_judged_yet_and_a_failed_one_was_judged_wet() -> None:
    assert make_pour().outcome == Pour.Outcome.OPEN
    failed = make_pour(outcome="failed")
    [judgement] = failed.judgements.all()
    assert (judgement.stage, judgement.outcome, judgement.judged_on) == (
        "wet",
        "failed",
        failed.session.held_on,
    )


def test_the_dry_judgement_counts_once_there_is_one_and_both_stay() -> None:
    pour = judge(make_pour(), "good")
    assert pour.outcome == "good"
    judge(pour, "second", "dry", ("Crazed", "Dull patch"))
    assert judge(pour, "good", "wet", notes="Even").outcome == "second"
    told = [(each.stage, each.outcome, each.flaw_names) for each in pour.judgements.all()]
    assert told == [("wet", "good", []), ("dry", "second", ["Crazed", "Dull patch"]), ("wet", "good", [])]


def test_the_same_judgement_sent_again_is_not_another_one() -> None:
    pour = make_pour()
    for _twice in range(2):
        judge(pour, "failed", "wet", ("Muddied", "Slid"))
    assert PourJudgement.objects.count() == 1
    assert JudgedFlaw.objects.count() == 2


@pytest.mark.parametrize(
    ("facts", "field"),
    [({"outcome": "open"}, "outcome"), ({"outcome": "fine"}, "outcome"), ({"stage": "damp"}, "stage")],
)
def test_what_makes_no_sense_is_refused_at_its_field(facts: dict[str, str], field: str) -> None:
    with pytest.raises(InputError) as refused:
        JudgementFacts(**({"pour": make_pour(), "outcome": "good"} | facts))  # type: ignore[arg-type]
    assert refused.value.field == field


def test_a_sold_pour_cannot_fail_and_one_that_was_poured_over_stays_failed() -> None:
    sold = make_pour()
    sell(pours=[sold])
    with pytest.raises(InventoryError, match="has been sold"):
        judge(sold, "failed")
    assert judge(sold, "second").outcome == "second"
    beneath = make_pour(outcome="failed")
    paint = make_material()
    make_delivery(lines=[(paint, units(500), money(5))])
    over = make_session(pours=[pour_of(material=paint, quantity=units(100), over=beneath)]).pours.get()
    for outcome in ("good", "second"):
        with pytest.raises(InventoryError, match=f"lies under {over.label}"):
            judge(beneath, outcome)


def test_nothing_is_judged_where_one_of_the_judgements_is_refused() -> None:
    fine, sold = make_pour(), make_pour()
    sell(pours=[sold])
    facts = [JudgementFacts(fine, "good"), JudgementFacts(sold, "failed")]
    with pytest.raises(InventoryError):
        judge_pours(judgements=facts, submission=make_submission())
    assert not PourJudgement.objects.exists()


def test_a_pour_of_a_reversed_session_is_not_judged(signed: Client) -> None:
    pour = make_pour()
    take_back(pour.session.posting)
    with pytest.raises(InventoryError):
        judge(pour, "good")
    assert signed.get(address_of(pour.session)).status_code == 302


def test_the_database_itself_keeps_judgements() -> None:
    judge(make_pour(), "failed", "wet", ("Muddied",))
    for statement in (
        "UPDATE inventory_pourjudgement SET outcome = 'good'",
        "DELETE FROM inventory_pourjudgement",
        "DELETE FROM inventory_judgedflaw",
        "UPDATE inventory_judgedflaw SET flaw_id = 1",
    ):
        with pytest.raises(IntegrityError), transaction.atomic(), connection.cursor() as cursor:
            cursor.execute(statement)
    with pytest.raises(IntegrityError), transaction.atomic():
        Pour.objects.update(outcome="superb")


def address_of(session: Session) -> str:
    return reverse("inventory:session-judge", args=[session.pk])


def test_all_pours_of_a_session_are_judged_on_one_page(signed: Client) -> None:
    first = make_pour()
    crazed, dull = (Flaw.objects.get(name=name) for name in ("Crazed", "Dull patch"))
    sent: dict[str, Any] = {
        "stage": "dry",
        f"pour-{first.pk}-outcome": "failed",
        f"pour-{first.pk}-flaws": [crazed.pk, dull.pk],
        f"pour-{first.pk}-notes": HOSTILE,
    }
    address = f"{address_of(first.session)}?stage=dry"
    assert signed.post(address, sent).status_code == 302
    first.refresh_from_db()
    assert first.outcome == "failed"
    assert [each.flaw_names for each in first.judgements.all()] == [["Crazed", "Dull patch"]]
    words = text_of(signed.get(reverse("inventory:pour", args=[first.pk])))
    assert "Dry: failed, crazed, dull patch" in words
    assert HOSTILE not in signed.get(address).content.decode()


def test_marks_come_along_from_wet_to_dry_and_what_was_judged_before_does_not(signed: Client) -> None:
    marked = make_pour()
    judge(marked, "good", "wet")
    address = address_of(marked.session)
    typed = {f"pour-{marked.pk}-notes": "Left edge", f"pour-{marked.pk}-outcome": "second"}
    dry = signed.post(f"{address}?stage=wet", {"stage": "wet", "show": "dry", **typed})
    [row] = dry.context["rows"]
    assert (dry.status_code, dry.context["stage"]) == (200, "dry")
    assert (row["outcome"].value(), row["notes"].value()) == ("second", "Left edge")
    assert marked.judgements.count() == 1
    untouched = {f"pour-{marked.pk}-outcome": "good"}
    [row] = signed.post(f"{address}?stage=wet", {"stage": "wet", "show": "dry", **untouched}).context["rows"]
    assert row["outcome"].value() is None


def test_a_pour_left_without_an_outcome_stays_unjudged(signed: Client) -> None:
    pour = make_pour()
    assert signed.post(address_of(pour.session), {"stage": "wet"}).status_code == 302
    pour.refresh_from_db()
    assert pour.outcome == "open"
    assert "Not judged yet" in text_of(signed.get(reverse("inventory:session", args=[pour.session_id])))


def test_an_unknown_flaw_or_outcome_is_told_and_nothing_is_kept(signed: Client) -> None:
    pour = make_pour()
    for wrong in ({"outcome": "open"}, {"outcome": "good", "flaws": ["999999"]}):
        sent = {"stage": "wet", **{f"pour-{pour.pk}-{name}": value for name, value in wrong.items()}}
        assert signed.post(address_of(pour.session), sent).status_code == 422
    assert not PourJudgement.objects.exists()


def test_the_page_asks_no_more_queries_the_more_pours_and_judgements_there_are(signed: Client) -> None:
    boards = Boards()
    few, many = boards.pour(1), boards.pour(6)
    for pour in (*few.pours.all(), *many.pours.all()):
        judge(pour, "second", "wet", ("Crazed", "Muddied"))
    assert queries(signed, address_of(many)) <= queries(signed, address_of(few))


def test_programs_judge_and_read_judgements(owner: User) -> None:
    pour, program = make_pour(), Program(owner)
    flaw = program.read("flaws/")["results"][0]
    told = program.send(
        f"pours/{pour.pk}/judge/", {"outcome": "second", "stage": "dry", "flaws": [flaw["id"]]}, status=200
    )
    assert told["pour"]["outcome"] == "second"
    assert [(each["stage"], each["flaws"]) for each in told["judgements"]] == [("dry", [flaw["name"]])]
    program.refusal(f"pours/{pour.pk}/judge/", {"outcome": "open", "stage": "dry"}, status=400)


def test_a_comparison_tells_flaws_and_waits_for_pours_that_nobody_judged(signed: Client) -> None:
    session = Boards().pour(2)
    comparison = make_comparison(session)
    judge(session.pours.order_by("number")[0], "failed", "wet", ("Muddied", "Slid"))
    words = text_of(signed.get(reverse("inventory:comparison", args=[comparison.pk])))
    assert "Muddied (1), Slid (1)" in words
