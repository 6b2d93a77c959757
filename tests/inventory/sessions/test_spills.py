"""Paint that was spilled in a session: a loss of its own, in the session's one posting."""

from dataclasses import replace

import pytest
from django.test import Client
from django.urls import reverse

from inventory.ledger.models import Entry, EntryRole, Lot, Place
from inventory.recipes.actions.mixes import MixFacts, planned
from inventory.recipes.models import Mix, RecipeVersion
from inventory.sessions.actions.corrections import correct_session
from inventory.sessions.actions.sessions import Dose, PourFacts, SessionFacts
from inventory.sessions.forms.correction_page import SessionCorrection
from inventory.sessions.models import Session
from inventory.sessions.queries.session_costs import account_of
from studio.accounts.models import User
from studio.errors import InputError
from studio.preferences.models import Studio
from tests import making
from tests.days import TODAY
from tests.inventory.browsing import as_user
from tests.inventory.session_bench import Bench, log, sent
from tests.making import held, money, units

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("books_hold")]


@pytest.fixture
def colour() -> RecipeVersion:
    """Half a paint at 0.01 a mL, half one at 0.03: 0.02 a mL."""
    white, clear = making.make_material(name="White"), making.make_material(name="Clear")
    making.make_delivery(lines=[(white, units(1_000), money(10)), (clear, units(1_000), money(30))])
    return making.make_recipe(parts=[(white, 1), (clear, 1)])


def facts_of(colour: RecipeVersion, *spills: Dose, leftover: str = Mix.Leftover.KEPT) -> SessionFacts:
    board = making.make_surface()
    making.make_opening(lines=[(board, units(5), money(10))])
    mix = MixFacts(colour, planned(colour, units(300)), leftover=leftover)
    pour = PourFacts(making.the_technique(), [Dose(units(200), mix=0)], surface=board)
    return SessionFacts(held_on=TODAY, mixes=[mix], pours=[pour], spills=spills)


def logged(facts: SessionFacts) -> Session:
    return making.make_session(
        mixes=facts.mixes, pours=facts.pours, spills=facts.spills, by=making.make_owner(), on=TODAY
    )


def spilled() -> dict[str, int]:
    """What is lost by a spill: mL and money, by material."""
    lost = Entry.objects.filter(place=Place.LOSS, role=EntryRole.SPILLED, reason__code="spilled")
    return {entry.material.name: entry.money for entry in lost}


def test_no_pour_carries_what_was_spilled(colour: RecipeVersion) -> None:
    session = logged(facts_of(colour, Dose(units(50), mix=0), leftover=Mix.Leftover.RESIDUE))
    (mix,), (pour,) = account_of(session).mixes, account_of(session).pours
    # 300 mL cost 6.00: 50 mL on the floor are 1.00, the board takes 2.00, 200 mL of paint and 50 mL of residue.
    assert spilled() == {colour.recipe.makes.name: money(1)}
    assert pour.cost == money(7)
    assert (mix.poured, mix.residue, mix.spilled, mix.left) == (units(200), units(50), units(50), 0)


def test_paint_from_a_jar_can_be_spilled_too(colour: RecipeVersion) -> None:
    clear = Lot.objects.get(material__name="Clear")
    logged(facts_of(colour, Dose(units(100), material=clear.material)))
    assert spilled() == {"Clear": money(3)}
    assert held(clear) == (units(750), money("22.50"))


def test_more_than_was_mixed_cannot_be_spilled(colour: RecipeVersion) -> None:
    with pytest.raises(InputError) as refusal:
        facts_of(colour, Dose(units(101), mix=0))
    assert (refusal.value.rows, refusal.value.line) == ("mixes", 1)
    with pytest.raises(InputError) as refusal:
        facts_of(colour, Dose(units(1), mix=1))
    assert (refusal.value.rows, refusal.value.line) == ("spills", 1)


def test_a_correction_keeps_a_spill_or_takes_it_out(colour: RecipeVersion, owner: User) -> None:
    facts = facts_of(colour, Dose(units(50), mix=0))
    session = logged(facts)
    page = SessionCorrection(None, session=session, studio=Studio.current(), seen=0)
    mix, pour = session.mixes.get(), session.pours.get()
    assert page.recorded.spilled_mixes == {mix.pk: units(50)}
    recorded = replace(
        facts, mixes=[replace(facts.mixes[0], mix=mix)], pours=[replace(facts.pours[0], pour=pour)]
    )
    correct_session(
        session=session, facts=replace(recorded, minutes=5), submission=making.make_submission(by=owner)
    )
    assert account_of(session).mixes[0].spilled == units(50)
    correct_session(
        session=session, facts=replace(recorded, spills=[]), submission=making.make_submission(by=owner)
    )
    (account,) = account_of(session).mixes
    assert (account.spilled, account.left) == (0, units(100))


def test_the_session_form_takes_what_was_spilled_of_a_cup(owner: User) -> None:
    bench = Bench()
    signed: Client = as_user(owner)
    log(signed, sent(cups=[bench.cup(0, spilled="50 ml")], pours=[bench.pours(alike="1", each="300 ml")]))
    (mix,) = account_of(Session.objects.get()).mixes
    assert (mix.spilled, mix.left) == (units(50), units(50))
    page = signed.get(reverse("inventory:session", args=[Session.objects.get().pk]))
    assert "50" in page.content.decode()
