"""When to order, from whom, in which packs: the ledger's figures brought to the textbook's formulas."""

from datetime import timedelta
from math import ceil

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from inventory.ledger.models import EntryRole, Lot
from inventory.materials.models import Material, Supplier, Supply
from inventory.materials.queries import best_buy, supplies_of
from inventory.recipes.actions.mixes import Ingredient
from inventory.reordering.calculations import LEAST_DAYS_OF_HISTORY
from inventory.reordering.queries import DAYS_LOOKED_BACK, Level, levels
from inventory.sessions.models import Pour
from inventory.stock.actions.stocktakes import Count, post_stocktake
from tests.days import DAY, TODAY, june
from tests.making import (
    charge,
    make_batch,
    make_delivery,
    make_lot,
    make_material,
    make_opening,
    make_order,
    make_recipe,
    make_session,
    make_submission,
    make_supplier,
    make_surface,
    make_water,
    money,
    pour_of,
    spill,
    take_back,
    units,
    use,
)

pytestmark = pytest.mark.django_db


def level_of(material: Material) -> Level:
    return next(level for level in levels(TODAY) if level.material == material)


def sells(supplier: Supplier, material: Material, size: int, price: int, **facts: object) -> Supply:
    return Supply.objects.create(
        supplier=supplier, material=material, pack_size=units(size), price=money(price), **facts
    )


def used_daily(material: Material, *, days: int = LEAST_DAYS_OF_HISTORY, a_day: int = 10) -> None:
    """A litre received so many days ago, and the same use on every day since."""
    first = TODAY - (days - 1) * DAY
    lot = make_lot(material=material, quantity=units(1000), on=first)
    for number in range(days):
        use(lot=lot, quantity=units(a_day), on=first + number * DAY)


def test_an_own_level_counts_before_any_statistics() -> None:
    paint = make_material(reorder_level=units(100))
    lot = make_lot(material=paint, quantity=units(101))
    assert (level_of(paint).level, level_of(paint).is_low) == (units(100), False)
    use(lot=lot, quantity=units(1))
    assert level_of(paint).is_low
    assert level_of(paint).reason == "Your own level."


def test_an_own_level_of_nothing_tells_when_the_last_is_gone() -> None:
    assert level_of(make_material(reorder_level=0)).is_low


def test_a_level_is_use_over_the_lead_time_and_safety_stock() -> None:
    """Average use 10 mL on every one of 14 days has no spread, so 7 days' lead time makes 70 mL."""
    paint = make_material()
    sells(make_supplier(name="Tern & Gull", lead_time_days=7), paint, 500, 8)
    used_daily(paint)
    found = level_of(paint)
    assert (found.level, found.stock, found.is_low) == (units(70), units(860), False)
    assert found.run_out_on == TODAY + 86 * DAY
    assert "10\u00a0mL a day (14 days); lead time 7 days (Tern & Gull)" in found.reason


def test_the_spread_of_the_lead_time_is_covered_by_safety_stock() -> None:
    """Safety stock = z·√(L·σd² + d²·σL²) (law of total variance); σd = 0, d = 10, σL = 2, z = 1.6449 at 95 %."""
    paint = make_material()
    sells(make_supplier(lead_time_days=7, lead_time_variation_days=2), paint, 500, 8)
    used_daily(paint)
    assert level_of(paint).level == units(70) + ceil(1.6448536269514722 * 20_000)


def test_an_own_safety_stock_takes_the_place_of_the_computed_one() -> None:
    paint = make_material(safety_stock=units(50))
    sells(make_supplier(lead_time_days=7, lead_time_variation_days=9), paint, 500, 8)
    used_daily(paint)
    assert level_of(paint).level == units(120)


def test_a_material_that_nobody_is_listed_for_is_given_the_usual_week() -> None:
    paint = make_material()
    used_daily(paint)
    assert level_of(paint).level == units(70)
    assert level_of(paint).suggestion is None


def test_the_preferred_supplier_decides_the_lead_time() -> None:
    paint = make_material()
    sells(make_supplier(name="A", lead_time_days=3), paint, 500, 8)
    sells(make_supplier(name="B", lead_time_days=20), paint, 500, 9, is_preferred=True)
    used_daily(paint)
    assert level_of(paint).level == units(200)


def test_what_was_mixed_counts_as_use_of_what_went_in() -> None:
    """200 mL of glue in 14 days are 100 mL over the usual week."""
    glue, water, medium = make_material(safety_stock=0), make_water(), make_material()
    make_delivery(lines=[(glue, units(1000), money(6))], on=TODAY - 13 * DAY)
    make_batch(version=make_recipe(parts=[(glue, 2), (water, 1)], makes=medium), quantity=units(300))
    assert level_of(glue).level == units(100)


def test_what_was_taken_back_was_never_used() -> None:
    paint = make_material()
    lot = make_lot(material=paint, quantity=units(1000))
    take_back(use(lot=lot, quantity=units(500)).posting)
    assert (level_of(paint).level, level_of(paint).is_low) == (None, False)


def test_use_of_more_than_a_year_ago_no_longer_counts() -> None:
    paint = make_material()
    lot = make_lot(material=paint, quantity=units(1000), on=TODAY - timedelta(days=500))
    use(lot=lot, quantity=units(100), on=TODAY - timedelta(days=DAYS_LOOKED_BACK))
    assert level_of(paint).level is None
    use(lot=lot, quantity=units(365), on=TODAY - timedelta(days=DAYS_LOOKED_BACK - 1))
    assert "1\u00a0mL a day (365 days)" in level_of(paint).reason


def test_a_first_session_makes_no_level_whatever_it_used() -> None:
    """By its first day alone, 600 mL used would ask for 4.2 L on the shelf."""
    paint = make_material()
    sells(make_supplier(lead_time_days=7), paint, 500, 8)
    used_daily(paint, days=1, a_day=600)
    found = level_of(paint)
    assert (found.level, found.is_low, found.suggestion, found.run_out_on) == (None, False, None, None)
    assert found.reason == (
        "Only 1 day of history. A reorder level is calculated after 14 days; set your own to be alerted sooner."
    )


def test_use_makes_a_level_from_the_fourteenth_day_on() -> None:
    early, due = make_material(), make_material()
    used_daily(early, days=13)
    used_daily(due, days=14)
    assert (level_of(early).level, level_of(due).level) == (None, units(70))
    assert level_of(early).reason.startswith("Only 13 days of history")


def test_what_she_set_herself_counts_from_the_first_day() -> None:
    """And with a level of her own, a day's use is not taken for a month's: twice the level is bought."""
    own, safe = make_material(reorder_level=units(500)), make_material(safety_stock=units(450))
    sells(make_supplier(), own, 1, 1)
    for paint in (own, safe):
        used_daily(paint, days=1, a_day=600)
    assert (level_of(own).level, level_of(own).is_low) == (units(500), True)
    suggestion = level_of(own).suggestion
    assert suggestion is not None
    assert suggestion.wanted == units(2 * 500 - 400)
    assert (level_of(safe).level, level_of(safe).is_low) == (units(450), True)
    assert level_of(safe).reason == (
        "Your own safety stock; only 1 day of history so far, and use is counted from 14 days."
    )


def test_a_material_never_bought_is_not_low() -> None:
    found = level_of(make_material())
    assert (found.level, found.is_low, found.run_out_on) == (None, False, None)


def test_what_is_on_order_keeps_a_material_from_being_low() -> None:
    paint = make_material(reorder_level=units(100))
    make_order((paint, units(101)))
    assert (level_of(paint).on_order, level_of(paint).is_low) == (units(101), False)


def test_made_archived_and_free_materials_are_left_out_unless_made_ones_have_their_own_level() -> None:
    paint = make_material()
    made, kept = make_material(), make_material(reorder_level=units(50))
    make_recipe(parts=[(paint, 1)], makes=made)
    make_recipe(parts=[(paint, 1)], makes=kept)
    make_water()
    make_material(is_archived=True, reorder_level=units(10))
    assert {level.material for level in levels(TODAY)} == {paint, kept}


def test_a_low_material_comes_with_the_packs_to_buy() -> None:
    """Up to twice the level of 300 mL: 600 mL, cheapest as 500 + 120 mL (12.00) rather than 2 × 500 mL (18.00)."""
    paint = make_material(reorder_level=units(300))
    shop = make_supplier()
    large, small = sells(shop, paint, 500, 9), sells(shop, paint, 120, 3)
    suggestion = level_of(paint).suggestion
    assert suggestion is not None
    assert {line.supply: line.packs for line in suggestion.lines} == {large: 1, small: 1}
    assert (suggestion.wanted, suggestion.quantity, suggestion.cost) == (units(600), units(620), money(12))


def test_a_months_use_is_ordered_when_that_is_more_than_the_level() -> None:
    paint = make_material()
    sells(make_supplier(lead_time_days=7), paint, 1, 1)
    used_daily(paint, a_day=70)  # 20 mL left of a level of 490 mL
    suggestion = level_of(paint).suggestion
    assert suggestion is not None
    assert suggestion.wanted == units(490 + 30 * 70 - 20)


def test_one_supplier_sends_the_whole_purchase_the_cheapest_in_our_own_currency() -> None:
    paint = make_material()
    for name, currency, price in (("Abroad", "EUR", 1), ("Dear", "GBP", 9), ("Cheap", "GBP", 8)):
        sells(make_supplier(name=name, currency=currency), paint, 500, price)
    buy = best_buy(units(700), supplies_of()[paint.pk], "GBP")
    assert buy is not None
    assert (buy.supplier.name, buy.cost, buy.currency) == ("Cheap", money(16), "GBP")


def test_the_preferred_supplier_is_asked_even_when_dearer_and_in_another_currency() -> None:
    paint = make_material()
    sells(make_supplier(name="Cheap"), paint, 500, 1)
    sells(make_supplier(name="Abroad", currency="EUR"), paint, 500, 9, is_preferred=True)
    buy = best_buy(units(500), supplies_of()[paint.pk], "GBP")
    assert buy is not None
    assert (buy.supplier.name, buy.currency) == ("Abroad", "EUR")


def test_nobody_sells_what_nobody_is_listed_for() -> None:
    assert best_buy(units(1), [], "GBP") is None


def test_levels_take_the_same_few_queries_however_many_materials_there_are() -> None:
    def queries() -> int:
        with CaptureQueriesContext(connection) as seen:
            levels(june(10))
        return len(seen)

    used_daily(make_material())
    few = queries()
    for _ in range(5):
        used_daily(make_material(), days=2)
    assert queries() == few <= 10


def test_asking_for_chosen_materials_gives_the_same_levels() -> None:
    paint, other = make_material(), make_material()
    used_daily(paint)
    used_daily(other)
    assert levels(TODAY, materials=[paint.pk]) == [level_of(paint)]


def test_losses_and_stocktake_differences_are_no_demand() -> None:
    paint = make_material()
    used_daily(paint)
    before = level_of(paint).level
    dropped = make_lot(material=paint, quantity=units(5_000), on=TODAY - DAY)
    spill(lot=dropped, quantity=units(5_000))
    lot = paint.lots.order_by("pk")[0]
    post_stocktake(counts=[Count(lot, units(700))], submission=make_submission())
    assert level_of(paint).level == before


def test_a_reversed_delivery_of_a_wrong_day_does_not_stretch_the_history() -> None:
    paint = make_material()
    used_daily(paint)
    before = level_of(paint).level
    wrong = make_lot(material=paint, on=TODAY - 300 * DAY)
    take_back(wrong.entries.get().posting)
    assert level_of(paint).level == before


def test_stock_past_its_best_before_keeps_no_alert_away() -> None:
    paint = make_material(reorder_level=units(100))
    lot = make_lot(material=paint, quantity=units(500), on=TODAY - 9 * DAY)
    assert not level_of(paint).is_low
    Lot.objects.filter(pk=lot.pk).update(best_before=TODAY - DAY)
    assert (level_of(paint).stock, level_of(paint).is_low) == (0, True)


def test_the_level_of_counted_goods_is_a_whole_number_of_things() -> None:
    gloves = make_material(measure="count", kind="sundry", safety_stock=units(1))
    lot = make_lot(material=gloves, quantity=units(100), on=TODAY - 100 * DAY)
    make_opening(lines=[(board := make_surface(), units(1), 0)], on=TODAY - 100 * DAY)
    make_session(pours=[pour_of(material=make_lot().material, quantity=units(1), surface=board)])
    charge(
        pours=[Pour.objects.get()],
        materials=[Ingredient(lot.material, units(3))],
        role=EntryRole.PACKING,
        submission=make_submission(),
    )
    level = level_of(gloves).level  # 3 in 101 days, over a week: 0.2 and the safety stock of 1
    assert level == units(2)
