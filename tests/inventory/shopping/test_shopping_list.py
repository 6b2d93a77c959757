"""What stands on the shopping list, from whom, and why: the same that plans, alerts and orders say."""

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from inventory.alerts.actions.refreshing import refresh_alerts
from inventory.materials.models import Material
from inventory.plans.queries import answer_of
from inventory.shopping.actions import Addition, add_to_list, choose, tick
from inventory.shopping.queries import alternatives, how_many_to_buy, shopping_list, with_what_to_buy
from inventory.shopping.wording import ShoppingWords
from studio.preferences.formatting import Formatter
from studio.preferences.models import Studio
from tests.days import AT, TODAY
from tests.inventory.shopping.stories import lines_of, low, packs_of, quay, sells, the_list
from tests.making import (
    make_delivery,
    make_lot,
    make_material,
    make_order,
    make_plan,
    make_recipe,
    make_submission,
    make_supplier,
    make_surface,
    money,
    planned_line,
    units,
)

pytestmark = pytest.mark.django_db


def add(material: Material, amount: int) -> None:
    add_to_list(addition=Addition(material, units(amount)), submission=make_submission())


def test_what_is_low_is_filled_with_the_cheapest_packs() -> None:
    """Up to twice the level of 300 mL: 600 mL, cheapest as 500 + 120 mL (12.00) rather than 2 × 500 mL (18.00)."""
    paint, shop = low(), quay()
    large, small = sells(shop, paint, 500, 9), sells(shop, paint, 120, 3)
    listed = the_list()
    assert packs_of(listed, paint) == {large: 1, small: 1}
    assert (listed.parts[0].goods, listed.home_cost) == (money(12), money(12))


def test_what_is_enough_or_on_order_is_not_on_the_list() -> None:
    enough, ordered = low(), low()
    shop = quay()
    for material in (enough, ordered):
        sells(shop, material, 500, 9)
    make_lot(material=enough, quantity=units(301))
    make_order((ordered, units(301)), supplier=shop)
    assert the_list().is_empty


def test_what_a_plan_is_short_of_is_on_the_list_with_its_name() -> None:
    paint, canvas = make_material(), make_surface()
    make_lot(material=canvas, quantity=units(5))
    supply = sells(quay(), paint, 100, 2)
    plan = make_plan(planned_line(canvas, 1, paint), on=TODAY + timedelta(days=2))
    (line,) = the_list().lines
    # A canvas of 1,116 cm² takes 0.22 mL/cm² and 10% more: 270.072 mL, three packs of 100.
    assert (packs_of(the_list(), paint), list(line.need.plans)) == ({supply: 3}, [plan])
    assert line.need.missing == pytest.approx(270_072, abs=1)


def test_two_plans_are_bought_for_together_and_late_orders_count() -> None:
    paint, canvas, shop = make_material(), make_surface(), quay()
    make_lot(material=canvas, quantity=units(5))
    supply = sells(shop, paint, 100, 2)
    for days in (2, 3):
        make_plan(planned_line(canvas, 1, paint), on=TODAY + timedelta(days=days))
    assert packs_of(the_list(), paint) == {supply: 6}
    make_order((paint, units(200)), supplier=shop, expected_on=TODAY + timedelta(days=9))
    assert packs_of(the_list(), paint) == {supply: 4}


def test_her_own_additions_are_on_top_of_the_rest() -> None:
    paint, shop = low(300), quay()
    supply = sells(shop, paint, 100, 2)
    add(paint, 150)
    assert packs_of(the_list(), paint) == {supply: 8}  # 600 and 150
    add(paint, 50)  # replaces the 150
    assert packs_of(the_list(), paint) == {supply: 7}


def test_plan_alert_order_and_list_tell_the_same_packs() -> None:
    """One white that is low and short for a plan: four places, one answer."""
    paint, canvas, shop, other = (
        low(300),
        make_surface(),
        quay(carriage=money(5)),
        make_supplier(name="Sluice Shop"),
    )
    make_lot(material=canvas, quantity=units(9))
    sells(shop, paint, 500, 9)
    sells(other, paint, 250, 5)
    plan = make_plan(planned_line(canvas, 3, paint), on=TODAY + timedelta(days=2))
    listed = the_list()
    (buy,) = listed.buys([paint.pk])[paint.pk]
    answer = with_what_to_buy(answer_of(plan, today=TODAY), TODAY, is_kept=True)
    assert answer.buy == (buy,)
    assert [(line.supply, line.packs) for line in buy.lines] == list(packs_of(listed, paint).items())
    # The plan takes 810.216 mL, and 600 fill the shelf again: six of 250 mL for 30.00, not three of 500 mL for 32.00.
    assert (buy.supplier, buy.quantity, buy.cost) == (other, units(1_500), money(30))


def test_a_question_that_is_not_kept_is_bought_for_besides() -> None:
    paint = low(300)
    supply = sells(quay(), paint, 100, 2)
    listed = shopping_list(TODAY, besides={paint.pk: units(700)})
    assert packs_of(listed, paint) == {supply: 7}
    assert packs_of(the_list(), paint) == {supply: 6}


def test_the_preferred_supplier_is_asked_even_when_dearer() -> None:
    paint, near, far = low(), make_supplier(name="Near"), make_supplier(name="Far")
    sells(near, paint, 500, 1)
    preferred = sells(far, paint, 500, 9, is_preferred=True)
    assert packs_of(the_list(), paint) == {preferred: 2}


def test_foreign_prices_are_compared_at_the_typed_rate_and_else_at_the_last_paid() -> None:
    paint, home = low(), quay()
    abroad = make_supplier(name="Nebelhorn", currency="EUR", exchange_rate=500_000)
    at_home, foreign = sells(home, paint, 600, 10), sells(abroad, paint, 600, 15)
    listed = the_list()
    assert (packs_of(listed, paint), listed.home_cost) == ({foreign: 1}, money("7.50"))
    abroad.exchange_rate = None
    abroad.save()
    make_delivery(
        lines=[(make_material(), units(1), money(10))], supplier=abroad, currency="EUR", paid=money("9.00")
    )
    assert packs_of(the_list(), paint) == {at_home: 1}  # 15 at 0.9 are 13.50


def test_a_price_without_a_rate_counts_only_where_there_is_no_other() -> None:
    paint, gold = low(), low()
    home, abroad = quay(), make_supplier(name="Nebelhorn", currency="EUR")
    at_home = sells(home, paint, 600, 99)
    sells(abroad, paint, 600, 1)
    only = sells(abroad, gold, 600, 1)
    listed = the_list()
    assert (packs_of(listed, paint), packs_of(listed, gold)) == ({at_home: 1}, {only: 1})
    assert [part.has_rate for part in listed.parts if part.supplier == abroad] == [False]
    assert listed.home_cost == money(99)


def test_price_breaks_carriage_and_minimum_are_what_the_supplier_asks() -> None:
    paint = low(300)
    shop = quay(carriage=money(5), free_carriage_from=money(40), minimum_order=money(30))
    supply = sells(shop, paint, 100, 4, (6, 3))
    (part,) = the_list().parts
    # Six would do, at 18.00; ten reach the minimum, and what they cost more is not wasted.
    assert packs_of(the_list(), paint) == {supply: 10}
    assert (part.goods, part.carriage, part.cost) == (money(30), money(5), money(35))
    assert (part.to_free_carriage, part.short_of_minimum) == (money(10), 0)
    paint.storage_limit = units(650)
    paint.save()
    (part,) = the_list().parts
    assert (part.goods, part.short_of_minimum) == (money(18), money(12))


def test_no_more_is_suggested_than_there_is_room_for() -> None:
    paint = low(300, storage_limit=units(450))
    supply = sells(quay(), paint, 100, 2)
    assert packs_of(the_list(), paint) == {supply: 4}


def test_what_nobody_sells_is_named_and_what_is_mixed_here_is_not() -> None:
    paint, mixed = low(name="Orphan"), low(name="Mixed here")
    make_recipe(parts=[(paint, 1)], makes=mixed)
    assert [need.material for need in the_list().unsold] == [paint]


def test_a_pack_that_was_chosen_by_hand_stays_and_what_it_costs_more_is_told() -> None:
    paint, near, far = low(), make_supplier(name="Near"), make_supplier(name="Far")
    sells(near, paint, 600, 10)
    other = sells(far, paint, 600, 13)
    dearer = {each.supply.supplier.name: each.dearer_by for each in alternatives(the_list(), paint.pk)}
    assert dearer == {"Near": 0, "Far": money(3)}
    choose(supply=other, packs=1, submission=make_submission())
    listed = the_list()
    assert packs_of(listed, paint) == {other: 1}
    dearer = {each.supply.supplier.name: each.dearer_by for each in alternatives(listed, paint.pk)}
    assert dearer == {"Near": 0, "Far": money(3)}


def test_the_next_best_supplier_is_told_with_what_it_costs_more() -> None:
    paint, near, far = low(), make_supplier(name="Near"), make_supplier(name="Far")
    sells(near, paint, 600, 10)
    sells(far, paint, 600, 13)
    listed = the_list()
    assert listed.dearer_elsewhere(listed.parts[0]) == money(3)
    words = ShoppingWords(listed, Formatter.of(Studio.current()), sees_money=True)
    assert "£3.00 more" in words.elsewhere(listed.parts[0])


def test_the_front_page_counts_what_is_needed_and_not_in_the_basket() -> None:
    paint, canvas, mixed = low(), make_surface(), low()
    make_recipe(parts=[(paint, 1)], makes=mixed)
    sells(quay(), paint, 500, 9)
    make_plan(planned_line(canvas, 1, paint), on=TODAY + timedelta(days=2))
    add_to_list(addition=Addition(text="Kitchen roll"), submission=make_submission())
    refresh_alerts(on=TODAY, at=AT)
    assert how_many_to_buy(TODAY) == 3  # paint, canvas, kitchen roll
    listed = the_list()
    assert len(listed.lines) + len(listed.unsold) + len(listed.others) == 3
    tick(material=paint, ticked=True, submission=make_submission())
    assert how_many_to_buy(TODAY) == 2


def test_the_list_takes_the_same_few_queries_however_much_there_is() -> None:
    def queries() -> int:
        with CaptureQueriesContext(connection) as seen:
            the_list()
        return len(seen)

    shop = quay(carriage=money(5))
    for _number in range(2):
        sells(shop, low(), 500, 9, (3, 8))
    few = queries()
    for _number in range(5):
        sells(shop, low(), 500, 9, (3, 8))
        add(low(), 50)
    assert queries() == few


def test_the_reasons_are_told_in_words() -> None:
    paint, shop = low(300), quay()
    sells(shop, paint, 100, 4, (6, 3))
    listed = the_list()
    words = ShoppingWords(listed, Formatter.of(Studio.current()), sees_money=True)
    (line,) = lines_of(listed, paint)
    told = [each.replace("\xa0", " ") for each in (words.packs(line), words.origin(line.need))]
    assert told == ["6 × 100 mL", "Low: 0 mL left, reorder at 300 mL."]
    assert words.why(line) == "The only supplier recorded. The price for more packs is reached."


def test_more_than_was_added_is_said_with_the_reason_to_who_sees_money() -> None:
    """Four bottles for the minimum order, where one was added by hand."""
    paint, shop = make_material(), quay(minimum_order=money(50))
    sells(shop, paint, 250, 13)
    add(paint, 250)
    listed = the_list()
    (line,) = lines_of(listed, paint)
    assert line.quantity == units(1000)
    told, untold = (
        ShoppingWords(listed, Formatter.of(Studio.current()), sees_money=sees).why(line)
        for sees in (True, False)
    )
    assert "More than was added, because of the minimum order" in told
    assert "More than was added" not in untold
    add(paint, 1000)
    listed = the_list()
    assert "More than was added" not in ShoppingWords(
        listed, Formatter.of(Studio.current()), sees_money=True
    ).why(*lines_of(listed, paint))
