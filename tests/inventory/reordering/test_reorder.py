"""When to order, from whom, in which packs: the ledger's figures brought to the textbook's formulas."""

from datetime import timedelta
from math import ceil

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from inventory.ledger.models import EntryRole, Lot
from inventory.ledger.stock_changes import batched
from inventory.materials.models import Material, Supplier, Supply
from inventory.plans.models import Plan
from inventory.recipes.actions.mixes import Ingredient
from inventory.reordering.calculations.demand import Series
from inventory.reordering.calculations.lead_times import LeadTime, lead_time
from inventory.reordering.calculations.levels import DAYS_OF_RATE, LEAST_DAYS, use_until_delivery
from inventory.reordering.history import LONGEST_WITHOUT_STOCK
from inventory.reordering.queries import Level, levels
from inventory.sessions.models import Pour
from inventory.stock.actions.stocktakes import Count, post_stocktake
from studio.preferences.models import Studio
from tests.days import AT, DAY, TODAY, june
from tests.making import (
    charge,
    make_batch,
    make_delivery,
    make_lot,
    make_material,
    make_opening,
    make_order,
    make_plan,
    make_recipe,
    make_session,
    make_submission,
    make_supplier,
    make_surface,
    make_water,
    money,
    planned_line,
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


def used_daily(*materials: Material, days: int = LEAST_DAYS, a_day: int = 10) -> None:
    """A litre of each received so many days ago, and the same use on every day from then to yesterday."""
    first = TODAY - days * DAY
    with batched(at=AT):
        make_delivery(lines=[(material, units(1000), money(10)) for material in materials], on=first)
        version = make_recipe(parts=[(material, 1) for material in materials])
        for number in range(days):
            make_batch(version=version, quantity=units(a_day * len(materials)), on=first + number * DAY)


def calculated(series: Series, lead: LeadTime | None = None, service: float = 0.95) -> int:
    """The level that a series alone makes, of the usual week's lead time unless said otherwise."""
    use = use_until_delivery(series, lead or lead_time(7))
    assert use is not None
    return use.level(service)


def daily(a_day: int = 10, days: int = LEAST_DAYS) -> Series:
    return Series.of([units(a_day)] * days)


def test_an_own_level_counts_before_any_statistics() -> None:
    paint = make_material(reorder_level=units(100))
    lot = make_lot(material=paint, quantity=units(101))
    assert (level_of(paint).level, level_of(paint).is_low) == (units(100), False)
    use(lot=lot, quantity=units(1))
    assert level_of(paint).is_low
    assert level_of(paint).reason == "Your own level."


def test_an_own_level_of_nothing_tells_when_the_last_is_gone() -> None:
    assert level_of(make_material(reorder_level=0)).is_low


def test_a_level_is_what_use_and_the_suppliers_lead_time_make_of_it() -> None:
    paint = make_material()
    sells(make_supplier(name="Tern & Gull", lead_time_days=9), paint, 500, 8)
    used_daily(paint)
    level = level_of(paint)
    assert level.level == level.calculated == calculated(daily(), lead_time(9))
    assert (level.stock, level.run_out_on) == (units(860), TODAY + 86 * DAY)
    assert level.usual_lead_days == 10  # deliveries take a tenth longer than stated
    assert "(usually 10 days), 19 times in 20. A first guess from 14 days" in level.reason


def test_a_lead_time_that_no_supplier_states_is_called_an_assumption() -> None:
    alone, sold = make_material(), make_material()
    sells(make_supplier(lead_time_days=9), sold, 500, 8)
    for paint in (alone, sold):
        used_daily(paint)
    assert "The lead time is an assumption" in level_of(alone).reason
    assert "assumption" not in level_of(sold).reason


def test_a_stated_variation_and_goods_from_abroad_lengthen_the_lead_time() -> None:
    plain, varying, abroad = make_material(), make_material(), make_material()
    sells(make_supplier(lead_time_days=10), plain, 500, 8)
    sells(make_supplier(lead_time_days=10, lead_time_variation_days=9), varying, 500, 8)
    sells(make_supplier(lead_time_days=10, currency="EUR"), abroad, 500, 8)
    used_daily(plain, varying, abroad)
    assert level_of(varying).level == calculated(daily(), lead_time(10, variation=0.82))  # 9 / (10 × 1.1)
    assert level_of(abroad).level == calculated(daily(), lead_time(10, variation=0.5))
    assert (level_of(plain).level or 0) < (level_of(abroad).level or 0) < (level_of(varying).level or 0)


def test_vital_materials_and_those_with_a_service_level_of_their_own_are_ordered_earlier_or_later() -> None:
    usual, vital, lax = make_material(), make_material(is_vital=True), make_material(service_level=800_000)
    used_daily(usual, vital, lax)
    asked = [calculated(daily(), service=service) for service in (0.95, 0.98, 0.80)]
    assert [level_of(paint).level for paint in (usual, vital, lax)] == asked
    Studio.objects.update(service_level=900_000, vital_service_level=990_000, days_between_orders=7)
    weekly = lead_time(7, days_between_checks=7)
    asked = [calculated(daily(), weekly, service) for service in (0.90, 0.99, 0.80)]
    assert [level_of(paint).level for paint in (usual, vital, lax)] == asked


def test_an_own_safety_stock_goes_on_top_of_use_over_the_lead_time() -> None:
    """10 mL a day for 14 days, over a lead time of 7 days that are usually nearer 8."""
    paint = make_material(safety_stock=units(50))
    sells(make_supplier(lead_time_days=7), paint, 500, 8)
    used_daily(paint)
    assert level_of(paint).level == ceil(units(10) * lead_time(7).mean) + units(50)


def test_a_material_that_nobody_is_listed_for_is_given_the_usual_week() -> None:
    paint = make_material()
    used_daily(paint)
    assert level_of(paint).level == calculated(daily(), lead_time(7))


def test_the_preferred_supplier_decides_the_lead_time() -> None:
    paint = make_material()
    sells(make_supplier(name="A", lead_time_days=3), paint, 500, 8)
    sells(make_supplier(name="B", lead_time_days=20), paint, 500, 9, is_preferred=True)
    used_daily(paint)
    assert level_of(paint).level == calculated(daily(), lead_time(20))


def test_what_deliveries_took_and_late_orders_count_beside_what_the_supplier_states() -> None:
    paint, other = make_material(), make_material()
    slow, punctual = make_supplier(lead_time_days=5), make_supplier(lead_time_days=10)
    sells(slow, paint, 500, 8)
    sells(punctual, other, 500, 8)
    used_daily(paint, other)
    order = make_order((paint, units(1)), supplier=slow, on=TODAY - 40 * DAY)
    make_delivery(lines=[(paint, units(1), 0)], on=TODAY - 28 * DAY, supplier=slow, order=order)  # 12 days
    make_order((paint, units(1)), supplier=slow, on=TODAY - 9 * DAY)  # late: 9 days by now
    make_order((paint, units(1)), supplier=slow, on=TODAY - 3 * DAY)  # not yet
    lead = lead_time(5, own=[12], still_open=[9])
    assert (level_of(paint).lead, level_of(paint).own_deliveries) == (lead, 2)
    assert level_of(other).lead == lead_time(10, ratios_of_others=[12 / 5, 9 / 5])


def test_what_was_mixed_counts_as_use_of_what_went_in() -> None:
    """200 mL of glue on the last of 14 days."""
    glue, water, medium = make_material(), make_water(), make_material()
    make_delivery(lines=[(glue, units(1000), money(6))], on=TODAY - 14 * DAY)
    recipe = make_recipe(parts=[(glue, 2), (water, 1)], makes=medium)
    make_batch(version=recipe, quantity=units(300), on=TODAY - DAY)
    assert level_of(glue).level == calculated(Series([13], [units(200)], 14))


def test_what_was_taken_back_was_never_used() -> None:
    paint = make_material()
    lot = make_lot(material=paint, quantity=units(1000))
    take_back(use(lot=lot, quantity=units(500)).posting)
    assert (level_of(paint).level, level_of(paint).is_low) == (None, False)


def test_use_of_more_than_a_year_ago_no_longer_counts() -> None:
    paint = make_material()
    lot = make_lot(material=paint, quantity=units(1000), on=TODAY - timedelta(days=500))
    use(lot=lot, quantity=units(100), on=TODAY - timedelta(days=DAYS_OF_RATE + 1))
    assert level_of(paint).level is None
    use(lot=lot, quantity=units(365), on=TODAY - timedelta(days=DAYS_OF_RATE))
    use_now = level_of(paint).use
    assert use_now is not None
    assert use_now.per_day == units(1)


def test_a_first_session_makes_no_level_whatever_it_used() -> None:
    """By its first day alone, 600 mL used would ask for 4.2 L on the shelf."""
    paint = make_material()
    sells(make_supplier(lead_time_days=7), paint, 500, 8)
    used_daily(paint, days=1, a_day=600)
    found = level_of(paint)
    assert (found.level, found.is_low, found.run_out_on) == (None, False, None)
    assert found.reason.startswith("Only 1 day of history. A reorder level is calculated after 14 days")


def test_use_makes_a_level_from_the_fourteenth_day_on() -> None:
    early, due = make_material(), make_material()
    used_daily(early, days=13)
    used_daily(due, days=14)
    assert (level_of(early).level, level_of(due).level) == (None, calculated(daily()))
    assert level_of(early).reason.startswith("Only 13 days of history")


def test_what_she_set_herself_counts_from_the_first_day() -> None:
    own, safe = make_material(reorder_level=units(500)), make_material(safety_stock=units(450))
    sells(make_supplier(), own, 1, 1)
    used_daily(own, safe, days=1, a_day=600)
    assert (level_of(own).level, level_of(own).is_low) == (units(500), True)
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


def test_levels_take_the_same_few_queries_however_many_materials_there_are() -> None:
    def queries() -> int:
        with CaptureQueriesContext(connection) as seen:
            levels(june(10))
        return len(seen)

    used_daily(make_material())
    few = queries()
    used_daily(*(make_material() for _ in range(5)), days=2)
    assert queries() == few <= 12


def test_asking_for_chosen_materials_gives_the_same_levels() -> None:
    paint, other = make_material(), make_material()
    used_daily(paint, other)
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
    gloves = make_material(measure="count", kind="sundry")
    lot = make_lot(material=gloves, quantity=units(100), on=TODAY - 100 * DAY)
    make_opening(lines=[(board := make_surface(), units(1), 0)], on=TODAY - 100 * DAY)
    make_session(pours=[pour_of(material=make_lot().material, quantity=units(1), surface=board)])
    charge(
        pours=[Pour.objects.get()],
        materials=[Ingredient(lot.material, units(3))],
        role=EntryRole.PACKING,
        submission=make_submission(),
    )
    level = levels(TODAY + DAY, materials=[gloves.pk])[0].level or 0
    assert level % units(1) == 0
    assert 0 <= level - calculated(Series([100], [units(3)], 101)) < units(1)


def test_days_without_stock_are_no_days_without_demand() -> None:
    """Ten used on each of 14 days, with ten days on an empty shelf between the seventh and the eighth."""
    paint = make_material()
    first = TODAY - 24 * DAY
    for start in (first, first + 17 * DAY):
        lot = make_lot(material=paint, quantity=units(70), on=start)
        for number in range(7):
            use(lot=lot, quantity=units(10), on=start + number * DAY)
    make_lot(material=paint, quantity=units(500))
    assert level_of(paint).level == calculated(daily())


def test_who_does_without_for_long_no_longer_needs_it() -> None:
    paint = make_material()
    lot = make_lot(material=paint, quantity=units(70), on=TODAY - 200 * DAY)
    use(lot=lot, quantity=units(70), on=TODAY - 190 * DAY)
    level = level_of(paint)
    assert level.use is not None
    assert level.use.days == 200 - LONGEST_WITHOUT_STOCK


def test_an_owners_guess_makes_a_level_from_the_first_day() -> None:
    paint = make_material(guessed_use=units(300))
    level = level_of(paint)
    use_now = use_until_delivery(Series((), (), 0), lead_time(7), guess_per_day=units(10))
    assert use_now is not None
    assert level.level == use_now.level(0.95)
    assert (level.is_low, level.reason.endswith("So far it rests partly on the use that you expect.")) == (
        True,
        True,
    )


def test_an_own_level_stands_beside_the_calculated_one_with_what_it_means() -> None:
    paint = make_material(reorder_level=units(100))
    used_daily(paint)
    level = level_of(paint)
    assert (level.level, level.calculated) == (units(100), calculated(daily()))
    use_now = use_until_delivery(daily(), lead_time(7))
    assert use_now is not None
    assert level.service == use_now.service(units(100))
    late = round(1 / (1 - level.service))
    assert f"about 1 delivery in {late} would come too late" in level.reason


def test_what_plans_reserve_before_a_delivery_could_come_is_spoken_for() -> None:
    """A board's ring pour takes some of 500 mL; the level lies between what is there and what is left."""
    paint, board = make_material(), make_surface()
    make_opening(lines=[(paint, units(500), 0), (board, units(10), 0)], on=TODAY - 90 * DAY)
    Material.objects.filter(pk=paint.pk).update(reorder_level=units(450))
    assert not level_of(paint).is_low
    longest = lead_time(7).longest
    plan = make_plan(planned_line(board, 2, paint), on=TODAY + (longest + 1) * DAY)
    later = level_of(paint)
    assert (later.due, later.is_low) == (0, False)
    assert later.reserved > units(50)
    Plan.objects.filter(pk=plan.pk).update(planned_on=TODAY + longest * DAY)
    soon = level_of(paint)
    assert (soon.due, soon.position, soon.is_low) == (later.reserved, units(500) - later.reserved, True)
