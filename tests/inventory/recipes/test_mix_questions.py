"""A yield that the parts cannot give, and amounts of a mix far from its history, are asked about before posting."""

from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from hypothesis import given
from hypothesis import strategies as st

from inventory.ledger.models import Posting
from inventory.materials.models import Kind, Material
from inventory.recipes.actions.batches import make_mix
from inventory.recipes.actions.mixes import Ingredient, MixFacts, most_given
from inventory.recipes.calculations import exceeds
from inventory.recipes.models import Mix, RecipeVersion
from studio.accounts.models import User
from studio.errors import NeedsConfirmation
from studio.preferences.models import Studio
from tests.days import TODAY
from tests.inventory.browsing import KEY, text_of
from tests.inventory.sessions.test_session_questions import asked
from tests.making import (
    make_batch,
    make_delivery,
    make_material,
    make_recipe,
    make_submission,
    make_water,
    money,
    take_back,
    units,
)
from tests.programs import Program

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("books_hold")]


class Pot:
    """Two parts of glue to one of water, the common home-made medium; plenty of glue is there."""

    def __init__(self) -> None:
        self.glue, self.water = (
            make_material(name="Loft glue", kind=Kind.MEDIUM),
            make_water(name="Tap water"),
        )
        makes = make_material(name="Loft medium", kind=Kind.MIX, density=None)
        self.version = make_recipe(parts=[(self.glue, 2), (self.water, 1)], makes=makes, name="Loft medium")
        make_delivery(lines=[(self.glue, units(90_000), money(900))], on=TODAY)

    def facts(self, glue: int = 200, water: int = 100, **change: Any) -> MixFacts:
        used = [Ingredient(self.glue, units(glue)), Ingredient(self.water, units(water))]
        return MixFacts(self.version, used, **change)

    def page(self, **change: Any) -> dict[str, Any]:
        return {
            "key": KEY,
            "mixed_on": "2025-06-10",
            "cup-contents": f"r{self.version.recipe_id}",
            "cup-wanted": "300 ml",
            "cup-measured": "50 l",
        } | change

    def body(self, **change: Any) -> dict[str, Any]:
        used = [
            {"material": self.glue.pk, "quantity": "200 ml"},
            {"material": self.water.pk, "quantity": "100 ml"},
        ]
        said = {
            "recipe": self.version.recipe_id,
            "on": TODAY.isoformat(),
            "ingredients": used,
            "measured": "50 l",
        }
        return said | change


@pytest.fixture
def pot(db: None) -> Pot:
    return Pot()


def questions(facts: MixFacts) -> list[str]:
    try:
        make_mix(facts=facts, submission=make_submission(confirmed=()))
    except NeedsConfirmation as refusal:
        return [each.text.replace("\xa0", " ") for each in refusal.questions]
    return []


FIFTY_LITRES = "Loft medium: 200 mL Loft glue + 100 mL Tap water give 300 mL; you measured 50 L."


# A measured yield


def test_a_yield_that_the_parts_cannot_give_names_both_figures_and_posts_nothing(
    signed: Client, pot: Pot
) -> None:
    before = Posting.objects.count()
    response = signed.post(reverse("inventory:mix-new"), pot.page())
    assert response.status_code == 422
    assert FIFTY_LITRES in text_of(response)
    assert 'value="50 l"' in response.content.decode()
    assert (Posting.objects.count(), Mix.objects.count()) == (before, 0)

    confirmed = pot.page(confirm=asked(response))
    lot = signed.post(reverse("inventory:mix-new"), confirmed)
    assert Mix.objects.get().posting.confirmed[0]["topic"] == "yield"
    assert f"{FIFTY_LITRES} Confirmed by owner" in text_of(signed.get(lot["Location"]))


def test_a_program_confirms_a_yield_in_a_field(owner: User, pot: Pot) -> None:
    program = Program(owner)
    refused = program.refusal("mixes/", pot.body(), key="pot", status=409)
    [question] = refused["questions"]
    assert (refused["kind"], question["topic"]) == ("needs-confirmation", "yield")
    made = program.send("mixes/", pot.body(confirmed=[question["token"]]), key="pot")
    assert made["left"]["amount"] == units(50_000)
    assert made["confirmed"][0]["text"].replace("\xa0", " ") == FIFTY_LITRES


@pytest.mark.parametrize(("measured", "is_asked"), [(290, False), (300, False), (315, False), (316, True)])
def test_measuring_may_be_off_by_the_studios_tolerance(pot: Pot, measured: int, is_asked: bool) -> None:
    assert bool(questions(pot.facts(measured=units(measured)))) == is_asked


def test_the_studio_sets_the_tolerance(pot: Pot) -> None:
    Studio.objects.update(measuring_tolerance=0)
    assert questions(pot.facts(measured=units(301)))
    Studio.objects.update(measuring_tolerance=200_000)
    assert not questions(pot.facts(measured=units(360)))


def by_mass(pot: Pot, density: int | None, makes: Material | None = None) -> MixFacts:
    pigment = make_material(name="Pigment", measure="mass", density=density)
    make_delivery(lines=[(pigment, units(1_000), money(9))], on=TODAY)
    version: RecipeVersion = pot.version
    if makes is not None:
        version = make_recipe(parts=[(pigment, 1), (pot.glue, 1)], makes=makes)
    used = [Ingredient(pigment, units(100)), Ingredient(pot.glue, units(100))]
    return MixFacts(version, used, measured=units(10_000))


def test_parts_by_mass_are_judged_by_their_density(pot: Pot) -> None:
    [question] = questions(by_mass(pot, 2_000_000))
    assert "give 150 mL; you measured 10 L" in question


def test_without_the_volumes_the_masses_are_compared(pot: Pot) -> None:
    # 100 g of a pigment of unknown density and 112 g of glue (1.12 g/mL) weigh 212 g: 200 mL of a paste of 1.06 g/mL.
    paste = make_material(name="Paste", kind=Kind.MIX, density=1_060_000)
    assert most_given(by_mass(pot, None, paste)) == units(200)


def test_without_either_nothing_can_be_judged_and_nothing_is_asked(pot: Pot) -> None:
    assert questions(by_mass(pot, None)) == []


@given(
    given_=st.integers(1, 10**9),
    measured=st.integers(1, 10**9),
    tolerance=st.integers(0, 10**6),
    scale=st.integers(1, 1000),
)
def test_a_yield_is_judged_by_ratio_alone(given_: int, measured: int, tolerance: int, scale: int) -> None:
    verdict = exceeds(measured, given_, tolerance=tolerance)
    assert exceeds(measured * scale, given_ * scale, tolerance=tolerance) == verdict
    assert not exceeds(given_, given_, tolerance=tolerance)
    assert not verdict or measured > given_
    assert not verdict or exceeds(measured + 1, given_, tolerance=tolerance)


# What was usual


@pytest.fixture
def used(pot: Pot) -> Pot:
    """Six batches of 240 to 360 mL lie behind her."""
    for quantity in (240, 300, 300, 330, 345, 360):
        make_batch(version=pot.version, quantity=units(quantity))
    return pot


def test_one_part_out_of_proportion_is_asked_about_by_its_own_history(used: Pot) -> None:
    assert questions(used.facts(glue=2_000, water=100)) == [
        "Loft glue in Loft medium: 2 L. Your last 6 were 160 mL to 240 mL."
    ]


def test_a_batch_much_larger_than_ever_is_asked_about_once_as_a_whole(used: Pot) -> None:
    assert questions(used.facts(glue=2_000, water=1_000)) == [
        "Loft medium, the whole mix: 3 L. Your last 6 were 240 mL to 360 mL."
    ]


@pytest.mark.parametrize(("glue", "water"), [(200, 100), (600, 300), (40, 20), (200, 160), (300, 100)])
def test_a_batch_for_more_or_fewer_pieces_is_not_asked_about(used: Pot, glue: int, water: int) -> None:
    assert questions(used.facts(glue=glue, water=water)) == []


def test_reversed_batches_are_no_history(used: Pot) -> None:
    for mix in Mix.objects.all()[:3]:
        take_back(mix.posting)
    assert questions(used.facts(glue=2_000, water=1_000)) == []


def test_a_new_recipe_has_no_history(used: Pot) -> None:
    other = make_recipe(parts=[(used.glue, 1)])
    assert questions(MixFacts(other, [Ingredient(used.glue, units(9_000))])) == []
