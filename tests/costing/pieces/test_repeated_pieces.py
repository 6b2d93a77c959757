"""The best piece of a comparison's winner is repeated after its recipe changed, and the change is shown."""

import re

import pytest
from django.urls import reverse

from costing.pieces.actions.pieces import PieceFacts, make_piece
from inventory.plans.models import Plan
from inventory.plans.queries import answer_of
from inventory.recipes.actions.mixes import MixFacts, planned
from inventory.recipes.actions.recipes import write_version
from inventory.sessions.actions.sessions import Dose, PourFacts
from studio.accounts.models import User
from tests.days import TODAY
from tests.inventory.browsing import as_user, filled_in, text_of
from tests.making import (
    make_lot,
    make_recipe,
    make_session,
    make_submission,
    make_surface,
    the_technique,
    units,
)

pytestmark = pytest.mark.django_db


def test_the_winners_best_piece_is_repeated_after_its_recipe_changed(owner: User) -> None:
    board = make_lot(material=make_surface(depth=None, sides_painted=False), quantity=units(9)).material
    white, medium = make_lot().material, make_lot().material
    recipe = make_recipe(parts=[(white, 1), (medium, 1)], name="Slack white")
    pours = [
        PourFacts(the_technique(), [Dose(units(amount), mix=0)], board, arm=arm)
        for arm, amount in (("white first", 70), ("white last", 80))
    ]
    mix = MixFacts(version=recipe, ingredients=planned(recipe, units(150)))
    session = make_session(mixes=[mix], pours=pours)
    best = session.pours.get(arm="white first")
    piece = make_piece(facts=PieceFacts(title="Neap", pours=[best]), submission=make_submission())
    write_version(
        recipe=recipe.recipe,
        parts=[(white, 1000), (medium, 4000)],
        basis="volume",
        submission=make_submission(),
    )
    client = as_user(owner)
    page = client.get(reverse("costing:piece", args=[piece.pk])).content.decode()
    link = re.search(r'href="([^"]*/plans/repeat/[^"]*)"', page)
    assert link is not None
    address = link[1].replace("&amp;", "&")
    shown = client.get(address)
    assert f"version 1: 1 {white}, 1 {medium}" in text_of(shown)
    assert f"version 2: 1 {white}, 4 {medium}" in text_of(shown)
    client.post(address, filled_in(shown, "planned_on"))
    plan = Plan.objects.with_lines().get()
    assert (plan.name, plan.kept_versions, plan.lines.get().poured) == ("Neap", [recipe], units(70))
    (cup,) = answer_of(plan, today=TODAY).cups
    assert [(part.material, part.volume) for part in cup.parts] == [(white, units(35)), (medium, units(35))]
