"""Drops and splashes: kept as they were typed, marked as estimates, and of no weight in the ledger."""

from dataclasses import replace
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from inventory.recipes.actions.mixes import Ingredient, MixFacts
from inventory.recipes.models import Mix
from inventory.sessions.actions.corrections import correct_session
from inventory.sessions.actions.sessions import SessionFacts, log_session
from studio.accounts.models import User
from studio.preferences.models import Studio
from tests.days import TODAY
from tests.inventory.browsing import KEY, text_of
from tests.inventory.session_bench import Bench
from tests.making import make_submission, units
from tests.programs import Program

pytestmark = pytest.mark.django_db


@pytest.fixture
def bench(db: None) -> Bench:
    return Bench()


def batch(bench: Bench, **typed: str) -> dict[str, Any]:
    version = bench.recipes[0]
    return {
        "key": KEY,
        "mixed_on": "2025-06-10",
        "cup-contents": f"r{version.recipe_id}",
        "cup-wanted": "400 ml",
        "cup-planned_for": f"{version.pk}:{units(400)}",
        **{f"cup-{name}": text for name, text in typed.items()},
    }


def test_a_splash_typed_on_the_page_is_kept_and_marked(signed: Client, bench: Bench) -> None:
    Studio.objects.update(splash_size=7_500)
    data = batch(bench, **{f"amount_{bench.medium.pk}": "2 splashes", f"amount_{bench.white.pk}": "90 ml"})
    assert signed.post(reverse("inventory:mix-new"), data).status_code == 302
    mix = Mix.objects.get()
    assert mix.estimates == {str(bench.medium.pk): {"typed": "2 splashes", "quantity": 15_000}}
    words = text_of(signed.get(reverse("inventory:lot", args=[mix.lot_id])))
    assert "≈ 2 splashes of Loft medium" in words


def test_a_program_types_drops_and_reads_them_back(owner: User, bench: Bench) -> None:
    program = Program(owner)
    parts = [
        {"material": bench.white.pk, "quantity": "90 ml"},
        {"material": bench.medium.pk, "quantity": "12 drops"},
    ]
    body = {"recipe": bench.recipes[0].recipe_id, "on": TODAY.isoformat(), "ingredients": parts}
    answer = program.post("mixes/", body).json()
    assert answer["estimates"] == [{"material": bench.medium.pk, "typed": "12 drops"}]


def session_with(bench: Bench, quantity: int, estimate: str, mix: Mix | None = None) -> SessionFacts:
    drawn = [Ingredient(bench.white, units(90)), Ingredient(bench.medium, quantity, estimate=estimate)]
    return SessionFacts(held_on=TODAY, mixes=[MixFacts(bench.recipes[0], drawn, mix=mix)])


@pytest.mark.parametrize(
    ("quantity", "typed", "shown"),
    [(600, "", "12 drops"), (1_000, "", ""), (400, "8 drops", "8 drops")],
    ids=["left alone", "measured after all", "estimated anew"],
)
def test_a_correction_keeps_the_mark_only_where_the_amount_stays(
    signed: Client, bench: Bench, quantity: int, typed: str, shown: str
) -> None:
    session = log_session(facts=session_with(bench, 600, "12 drops"), submission=make_submission())
    mix = session.mixes.get()
    facts = session_with(bench, quantity, typed, mix)
    facts = replace(facts, minutes=5)
    correct_session(session=session, facts=facts, submission=make_submission())
    mix.refresh_from_db()
    assert mix.estimate_of(bench.medium.pk, quantity) == shown
    words = text_of(signed.get(reverse("inventory:session", args=[session.pk])))
    assert ("≈ estimated" in words) == bool(shown)
    assert shown in words
