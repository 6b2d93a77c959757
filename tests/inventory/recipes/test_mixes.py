"""Mixing: ingredients leave the shelf into a cup, and the cup becomes a lot with all their cost."""

from datetime import timedelta
from functools import partial

import pytest

from inventory.errors import InventoryError, NotEnough
from inventory.ledger.models import Entry, Lot, Place, Posting, PostingKind
from inventory.recipes.actions.batches import make_mix
from inventory.recipes.actions.mixes import Ingredient, MixFacts, planned
from inventory.recipes.models import RecipeVersion
from studio.accounts.models import User
from studio.errors import InputError
from tests import making
from tests.days import DAY, TODAY
from tests.inventory.invariants import refused, wrong_places
from tests.making import held, money, units

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("books_hold")]


def make_medium(**made: object) -> tuple[RecipeVersion, Lot]:
    """Home-made medium, 2 parts glue to 1 of water (common practice, no source), and a litre of glue for 12.00."""
    glue = making.make_material(name="Glue", kind="medium")
    version = making.make_recipe(
        parts=[(glue, 2), (making.make_water(name="Water"), 1)],
        makes=making.make_material(name="House medium", kind="medium", **made),
    )
    return version, making.make_lot(material=glue, quantity=units(1_000), cost=money(12))


def test_three_hundred_of_medium_takes_two_hundred_of_glue_and_one_hundred_of_water() -> None:
    # 2 : 1 by volume: 300 mL is 200 mL of glue and 100 mL of water; only the glue costs: 200 × 0.012 = 2.40.
    version, glue = make_medium()
    mix = making.make_batch(version=version, quantity=units(300))
    assert held(glue) == (units(800), money("9.60"))
    assert held(mix.lot) == (units(300), money("2.40"))
    into_the_cup = Entry.objects.filter(place=Place.MIX, quantity__gt=0).values_list(
        "material__name", "quantity", "money"
    )
    assert list(into_the_cup) == [("Glue", units(200), money("2.40")), ("Water", units(100), 0)]


def test_a_third_of_home_made_medium_is_water() -> None:
    version, _ = make_medium()
    assert making.make_batch(version=version, quantity=units(300)).water_share == 333_333


def test_the_made_lot_is_opened_that_day_and_keeps_as_long_as_its_material_does() -> None:
    version, _ = make_medium(keeps_days=30)
    lot = making.make_batch(version=version, quantity=units(30), place="Fridge door").lot
    assert (lot.origin, lot.received_on, lot.opened_on) == (Lot.Origin.MIX, TODAY, TODAY)
    assert (lot.best_before, lot.place) == (TODAY + timedelta(days=30), "Fridge door")


def test_a_use_by_day_given_goes_before_the_usual_keeping_time() -> None:
    version, _ = make_medium(keeps_days=30)
    mix = making.make_batch(version=version, quantity=units(30), use_by=TODAY + 9 * DAY)
    assert mix.lot.best_before == TODAY + 9 * DAY


def test_a_mix_is_not_to_be_used_before_it_is_mixed() -> None:
    version, _ = make_medium()
    with pytest.raises(InputError, match="or a later day"):
        making.make_batch(version=version, quantity=units(30), use_by=TODAY - DAY)


def test_a_measured_yield_carries_the_same_cost() -> None:
    version, _ = make_medium()
    mix = making.make_batch(version=version, quantity=units(300), measured=units(290))
    assert held(mix.lot) == (units(290), money("2.40"))


def test_a_mix_of_a_mix_carries_cost_and_water_along() -> None:
    version, _ = make_medium(water_share=333_333)
    medium = making.make_batch(version=version, quantity=units(300)).lot
    rose = making.make_material(name="Rose")
    making.make_lot(material=rose, quantity=units(500), cost=money(15))
    colour = making.make_recipe(parts=[(medium.material, 2), (rose, 1)])
    mix = making.make_batch(version=colour, quantity=units(150))
    # 100 mL of medium at 0.008 and 50 mL of rose at 0.03
    assert held(mix.lot) == (units(150), money("0.80") + money("1.50"))
    assert held(medium) == (units(200), money("1.60"))
    assert mix.water_share == 222_222  # 100 × 0.333333 of 150


def test_a_recipe_by_weight_draws_each_part_in_its_own_measure(owner: User) -> None:
    paste = making.make_material(name="Paste", measure="mass", density=1_600_000)
    thin = making.make_material(name="Thinner", density=800_000)
    making.make_delivery(lines=[(paste, units(1_000), money(20)), (thin, units(1_000), money(5))])
    makes = making.make_material(name="Heavy cream", measure="mass")
    version = making.make_recipe(parts=[(paste, 3), (thin, 1)], makes=makes, basis="mass")
    amounts = {item.material.name: item.quantity for item in planned(version, units(400))}
    assert amounts == {"Paste": units(300), "Thinner": units(125)}  # 100 g at 0.8 g/mL is 125 mL
    mix = making.make_batch(version=version, quantity=units(400))
    assert held(mix.lot) == (units(400), money(6) + money("0.625"))


def test_amounts_as_mixed_count_rather_than_the_recipe(owner: User) -> None:
    version, glue = make_medium()
    facts = MixFacts(version, [Ingredient(glue.material, units(210))])
    assert held(make_mix(facts=facts, submission=making.make_submission(by=owner)).lot) == (
        units(210),
        money("2.52"),
    )


def test_every_shortfall_of_a_mix_is_listed(owner: User) -> None:
    one, two, plenty = (making.make_material() for _ in range(3))
    making.make_delivery(lines=[(one, units(10), money(1)), (plenty, units(500), money(1))])
    version = making.make_recipe(parts=[(one, 1), (two, 1), (plenty, 1)])
    with refused(NotEnough) as refusal:
        making.make_batch(version=version, quantity=units(90))
    assert {(item.material, item.short) for item in refusal.value.shortfalls} == {
        (one.pk, units(20)),
        (two.pk, units(30)),
    }


def test_confirming_that_the_bottle_held_more_posts_the_gain_first_at_its_usual_cost() -> None:
    version, glue = make_medium()
    mix = making.make_batch(version=version, quantity=units(1_800), confirm_gain=True)
    gain = Posting.objects.get(kind=PostingKind.COUNT_GAIN)
    assert gain.number == mix.posting_id - 1
    gave = gain.entries.get(place=Place.GAIN)
    assert (gave.quantity, gave.money) == (-units(200), -money("2.40"))  # 200 mL at the last delivery's 0.012
    assert held(glue) == (0, 0)
    assert held(mix.lot) == (units(1_800), money("14.40"))


def test_confirming_without_a_shortfall_posts_no_gain() -> None:
    version, _ = make_medium()
    making.make_batch(version=version, quantity=units(30), confirm_gain=True)
    assert not Posting.objects.filter(kind=PostingKind.COUNT_GAIN).exists()


def test_confirmed_paint_that_was_never_received_becomes_a_found_lot_without_cost() -> None:
    mystery = making.make_material()
    mix = making.make_batch(
        version=making.make_recipe(parts=[(mystery, 1)]), quantity=units(40), confirm_gain=True
    )
    assert Lot.objects.get(material=mystery).origin == Lot.Origin.COUNT
    assert held(mix.lot) == (units(40), 0)


def test_it_refuses_an_amount_of_nothing() -> None:
    version, glue = make_medium()
    for items in ([], [(glue.material, 0)], [(glue.material, -1)]):
        ingredients = making.ingredients(*items)
        assert wrong_places(partial(MixFacts, version, ingredients)) == ["ingredients"]


def test_it_refuses_a_mix_that_is_an_ingredient_of_itself() -> None:
    version, _ = make_medium()
    ingredients = [Ingredient(version.recipe.makes, units(10))]
    assert wrong_places(lambda: MixFacts(version, ingredients)) == ["ingredients"]


def test_it_asks_for_the_density_that_a_mix_of_weights_and_volumes_needs() -> None:
    powder = making.make_material(name="Mica", measure="mass", density=None)
    making.make_lot(material=powder, quantity=units(50), cost=money(4))
    version, glue = make_medium()
    with refused(InventoryError, match="Mica has no density"):
        MixFacts(version, making.ingredients((glue.material, units(10)), (powder, units(1))))


def test_it_refuses_to_stir_in_something_that_is_counted() -> None:
    version, glue = make_medium()
    canvas = making.make_surface(name="Round board")
    with refused(InventoryError, match="Round board is measured by count"):
        MixFacts(version, making.ingredients((glue.material, units(10)), (canvas, units(1))))
