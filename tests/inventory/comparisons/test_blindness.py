"""A blind comparison hides its arms from whoever judges, wherever they could look, until it is finished or opened."""

from collections.abc import Collection
from dataclasses import dataclass
from typing import Any

import pytest
from django.db import IntegrityError, transaction
from django.urls import reverse
from django.utils import timezone

from inventory.comparisons.actions.comparison_facts import ArmFacts
from inventory.comparisons.actions.comparisons import finish, open_arms
from inventory.comparisons.models import ComparedPour, Comparison
from inventory.comparisons.queries.results import results_of
from inventory.comparisons.queries.wording import opened_words
from inventory.errors import InventoryError
from inventory.plans.actions import PlanLineFacts, pour_plan
from inventory.plans.models import Plan
from inventory.recipes.actions.mixes import MixFacts, planned
from inventory.sessions.actions.sessions import Dose, PourFacts, SessionFacts
from inventory.sessions.models import Pour, Session
from studio.accounts.models import User
from studio.backups.models import Backup
from studio.preferences.formatting import Formatter
from studio.preferences.models import Studio
from tests.address_roles import NOBODY
from tests.address_table import TABLE
from tests.addresses import Address, addresses
from tests.asking import asked, signed_in
from tests.days import TODAY
from tests.inventory.browsing import as_user, text_of
from tests.inventory.comparisons.boards import Boards, give, make_comparison
from tests.inventory.comparisons.photo_counts import begin_a_count, counted_piece
from tests.making import make_owner, make_plan, make_submission, the_technique, units
from tests.programs import Program
from tests.small_studio import SmallStudio, small_studio
from tests.test_roles_and_addresses import numbers, path_of

pytestmark = pytest.mark.django_db
ARMS = ("Windward", "Leeward")


@dataclass
class Blind:
    """A plan with two arms, poured as a session with one failed pour of each, and compared blind."""

    studio: SmallStudio
    plan: Plan
    session: Session
    comparison: Comparison
    judge: User

    @property
    def rows(self) -> dict[str, int]:
        """Which row each address is asked for."""
        pour = self.session.pours.order_by("number")[0].pk
        own = {
            "plan": self.plan.pk,
            "session": self.session.pk,
            "comparison": self.comparison.pk,
            "pour": pour,
        }
        others = dict.fromkeys(("session-judge", "session-weigh", "session-throw-away"), self.session.pk)
        return numbers(self.studio) | own | others | {"plans": self.plan.pk}


@pytest.fixture
def blind(helper: User) -> Blind:
    studio, technique = small_studio(), the_technique()
    begin_a_count(counted_piece(studio))
    Backup.objects.create(made_at=timezone.now(), path="gone.zip", ok=True)
    lines = [
        PlanLineFacts(studio.canvas, 2, technique, [(studio.colour.recipe.makes, 1000)], arm=name)
        for name in ARMS
    ]
    plan = make_plan(*lines, name="Trial")
    poured = [
        PourFacts(
            technique=technique,
            doses=[Dose(units(40), mix=0)],
            surface=studio.canvas,
            arm=ARMS[place % 2],
            outcome=Pour.Outcome.FAILED if place < 2 else Pour.Outcome.GOOD,
        )
        for place in range(4)
    ]
    mixed = MixFacts(version=studio.colour, ingredients=planned(studio.colour, units(200)))
    facts = SessionFacts(held_on=TODAY, mixes=[mixed], pours=poured, title="Trial", minutes=60)
    session = pour_plan(plan=plan, facts=facts, submission=make_submission())
    pours = list(session.pours.select_related("session__posting"))
    arms = [ArmFacts(name, [pour for pour in pours if pour.arm == name]) for name in ARMS]
    comparison = make_comparison(
        session, arms=arms, is_blind=True, judges=[helper, make_owner()], varied="other"
    )
    return Blind(studio, plan, session, comparison, helper)


def looked_at(blind: Blind, address: Address) -> list[str]:
    """The addresses at which a judge could look, with what they are asked for."""
    path = path_of(address, blind.rows)
    asking = {
        "inventory:session-new": ["", f"?repeat={blind.session.pk}"],
        "inventory:plan-repeat": [f"?session={blind.session.pk}"],
        "inventory:comparison-new": [f"?session={blind.session.pk}"],
        "inventory:comparison-pours": ["", f"?session={blind.session.pk}", "?arms=shown"],
        "inventory:sessions": ["", "?export=csv"],
        "inventory:comparisons": ["", "?export=csv"],
        "inventory:plans": ["?state=poured"],
        "api-plans-list": ["?state=poured"],
        "api-pours-list": ["", f"?session={blind.session.pk}"],
    }
    return [path + query for query in asking.get(address.name, [""])]


TELLING = {
    "inventory:session", "inventory:pour", "inventory:plan", "inventory:plan-repeat", "inventory:session-new",
    "inventory:session-weigh", "inventory:session-throw-away", "inventory:comparisons", "inventory:comparison",
    "inventory:comparison-report", "inventory:comparison-recipes", "inventory:comparison-recipes-text",
    "inventory:comparison-new", "api-pours-list", "api-pours-detail", "api-sessions-detail", "api-plans-list",
    "api-plans-detail", "api-comparisons-detail",
}  # fmt: skip


def telling(blind: Blind, *, who: User, among: Collection[str] | None = None) -> set[str]:
    """The names of the addresses, of all or of some, that name an arm."""
    client, found = signed_in(who), set()
    for address in addresses():
        if TABLE[address.name][0] == NOBODY or address.name == "inventory:session-photo":
            continue
        if among is not None and address.name not in among:
            continue
        for path in looked_at(blind, address):
            body = asked(client, "GET", path).body
            found |= {address.name for name in ARMS if name in body}
    return found


def score_all(blind: Blind) -> None:
    for judge in blind.comparison.judges.all():
        give(blind.comparison, [[7, 8], [5, 6]], judge=judge)


def test_a_judge_finds_no_arm_wherever_she_looks_until_it_is_finished(blind: Blind) -> None:
    first = ComparedPour.objects.filter(comparison=blind.comparison).order_by("pk")[0]
    give_one(first, blind.judge)
    assert telling(blind, who=blind.judge) == set()
    score_all(blind)
    finish(comparison=blind.comparison, submission=make_submission())
    assert telling(blind, who=blind.judge, among=TELLING) == TELLING


def give_one(compared: ComparedPour, judge: User) -> None:
    body = {"pour": compared.pk, "criterion": compared.comparison.criteria.get().pk, "stage": "wet"}
    path = f"comparisons/{compared.comparison_id}/scores/"
    Program(judge).send(path, {**body, "judge": judge.pk, "value": "6"}, status=200)


def test_whoever_sets_it_up_sees_the_arms_until_the_first_score(blind: Blind) -> None:
    client, path = as_user(blind.judge), reverse("inventory:comparison-pours", args=[blind.comparison.pk])
    assert "Windward" not in text_of(client.get(path))
    assert "Windward" in text_of(client.get(path, {"arms": "shown"}))
    give_one(blind.comparison.pours.all()[0], blind.judge)
    assert "Windward" not in text_of(client.get(path, {"arms": "shown"}))


def test_a_pour_whose_arm_is_hidden_is_left_out_and_keeps_its_arm(blind: Blind) -> None:
    compared = blind.comparison.pours.order_by("pour")[0]
    path = reverse("inventory:comparison-pours", args=[blind.comparison.pk])
    sent = {f"pour-{compared.pour_id}-left_out": "dropped", "hands": "Ida", "colour_order": ""}
    assert as_user(blind.judge).post(f"{path}?session={blind.session.pk}", sent).status_code == 302
    now = ComparedPour.objects.get(pk=compared.pk)
    assert (now.arm_id, now.left_out, now.hands) == (compared.arm_id, "dropped", "Ida")


def test_the_owner_shows_the_arms_on_purpose_and_it_stays_on_record(blind: Blind, helper: User) -> None:
    path = reverse("inventory:comparison-open", args=[blind.comparison.pk])
    assert as_user(helper).post(path).status_code == 403
    assert not Comparison.objects.get(pk=blind.comparison.pk).shows_arms
    owner = make_owner()
    page = text_of(as_user(owner).post(path, follow=True))
    assert "showed the arms on" in page
    now = Comparison.objects.get(pk=blind.comparison.pk)
    assert (now.opened_by, now.opened_at is not None, now.finished_at) == (owner, True, None)
    assert telling(blind, who=blind.judge, among={"inventory:session"})
    formatter = Formatter.of(Studio.current())
    assert opened_words(results_of(now).comparison, formatter).startswith(str(owner))
    report = asked(signed_in(owner), "GET", reverse("inventory:comparison-report", args=[now.pk])).body
    assert "showed the arms on" in " ".join(report.split())


def test_a_program_opens_it_once_and_reads_who_did(blind: Blind, owner: User) -> None:
    program, path = Program(owner), f"comparisons/{blind.comparison.pk}"
    assert {arm["name"] for arm in program.read(f"{path}/")["arms"]} == {""}
    opened = program.send(f"{path}/open/", status=200)
    assert (opened["opened_by"], [arm["name"] for arm in opened["arms"]]) == (owner.pk, list(ARMS))
    program.refusal(f"{path}/open/", status=422)


def test_what_is_not_hidden_cannot_be_opened() -> None:
    plain = make_comparison(Boards().pour(1))
    with pytest.raises(InventoryError, match="not hidden"):
        open_arms(comparison=plain, submission=make_submission())


@pytest.mark.parametrize(
    "wrong", [{"opened_at": timezone.now()}, {"opened_at": timezone.now(), "opened_by": 1, "is_blind": False}]
)
def test_the_database_refuses_an_opening_by_nobody_or_of_what_is_not_blind(wrong: dict[str, Any]) -> None:
    comparison = make_comparison(None, is_blind=True)
    if "opened_by" in wrong:
        wrong = wrong | {"opened_by": make_owner()}
    with pytest.raises(IntegrityError, match="opened_by_somebody"), transaction.atomic():
        Comparison.objects.filter(pk=comparison.pk).update(**wrong)
