"""What raises each kind of alert besides low stock, what it says, and what clears it."""

from datetime import timedelta

import pytest

from inventory.alerts.actions.refreshing import refresh_alerts
from inventory.alerts.kinds import kinds
from inventory.alerts.rules.purchases import NEWS_DAYS
from inventory.ledger.models import Lot
from inventory.materials.models import Kind, Material
from inventory.purchasing.models import Delivery, Order
from inventory.stock.actions.stocktakes import Count, post_stocktake
from tests.days import AT, DAY, TODAY
from tests.inventory.alerts.looking import in_words, look, set_up, standing
from tests.making import (
    make_batch,
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
    spill,
    take_back,
    units,
)

pytestmark = pytest.mark.django_db


def a_lot(**facts: object) -> Lot:
    """100 mL of a paint, described so."""
    lot = make_lot(material=make_material(name="Gull White"), quantity=units(100), on=TODAY - 90 * DAY)
    Lot.objects.filter(pk=lot.pk).update(**facts)
    return lot


def test_every_kind_has_its_own_code_and_urgency() -> None:
    known = kinds()
    assert len({kind.urgency for kind in known}) == len({kind.code for kind in known}) == len(known) == 17
    assert [kind.code for kind in known if kind.needs_money] == ["below_cost", "price_jump"]


# Used up


def test_what_a_young_studio_has_used_up_is_told_until_it_is_there_again_ordered_or_archived() -> None:
    paint, never = make_material(name="Gull White"), make_material(name="Never bought")
    spill(lot=make_lot(material=paint, quantity=units(100), on=TODAY - DAY), quantity=units(100))
    look()
    [alert] = standing("used_up")
    assert (alert.material, in_words(alert)) == (paint, "Nothing is left. It has no reorder level yet.")
    make_lot(material=paint, quantity=units(100))
    refresh_alerts(on=TODAY, at=AT, materials=[paint.pk, never.pk])
    assert standing("used_up") == []


def test_what_went_more_than_a_year_ago_is_no_news() -> None:
    lot = make_lot(material=make_material(), quantity=units(100), on=TODAY - 500 * DAY)
    spill(lot=lot, quantity=units(100), on=TODAY - 400 * DAY)
    look()
    assert standing("used_up") == []


# Short for a plan


def test_a_plan_that_lacks_paint_is_told_with_how_much_and_clears_when_it_is_there() -> None:
    paint, board = make_material(name="Gull White"), make_surface()
    make_lot(material=board, quantity=units(10))
    make_lot(material=paint, quantity=units(100))
    make_plan(planned_line(board, 2, paint), name="Lantern set", on=TODAY + 3 * DAY)
    look()
    [alert] = standing("short_for_plan")
    assert (alert.material, alert.figures["plan"], alert.figures["missing"] > 0) == (
        paint,
        "Lantern set",
        True,
    )
    assert in_words(alert).startswith("Lantern set on 13 Jun 2025 needs ")
    make_lot(material=paint, quantity=units(2_000))
    refresh_alerts(on=TODAY, at=AT, materials=[paint.pk])  # as after the commit
    assert standing("short_for_plan") == []


def test_an_order_without_a_day_that_would_do_makes_a_shortage_quiet() -> None:
    paint, board = make_material(), make_surface()
    make_lot(material=board, quantity=units(10))
    make_plan(planned_line(board, 2, paint), on=TODAY + 3 * DAY)
    look()
    make_order((paint, units(5_000)))
    Order.objects.update(expected_on=None)
    look()
    [alert] = standing("short_for_plan")
    assert alert.ordered_at == AT
    Order.objects.update(expected_on=TODAY + 2 * DAY)
    look()
    assert standing("short_for_plan") == []


# Late orders


def test_an_order_is_late_the_day_after_it_was_expected_and_no_longer_once_it_is_here() -> None:
    paint = make_material()
    order = make_order(
        (paint, units(500)),
        supplier=make_supplier(name="Limpet Colours"),
        on=TODAY - 9 * DAY,
        expected_on=TODAY - DAY,
    )
    assert look(on=TODAY - DAY) == []
    assert look() == ["order_late"]
    [alert] = standing()
    assert (alert.figures["name"], alert.since) == ("Limpet Colours", TODAY)
    assert in_words(alert) == "Ordered 1 Jun 2025, expected 9 Jun 2025: 1 day late."
    look(on=TODAY + DAY)
    assert "2 days late" in in_words(standing()[0])
    make_delivery(lines=[(paint, units(500), money(5))], supplier=order.supplier, order=order)
    refresh_alerts(on=TODAY + DAY, at=AT, materials=[paint.pk])
    assert standing() == []


# Lots


@pytest.mark.parametrize(
    ("days", "found"), [(15, []), (14, ["near_date"]), (0, ["near_date"]), (-1, ["past_date"])]
)
def test_a_lot_is_near_its_date_so_many_days_ahead_and_then_past_it(days: int, found: list[str]) -> None:
    a_lot(best_before=TODAY + days * DAY)
    assert look() == found


def test_the_studio_says_how_many_days_ahead_a_date_is_near() -> None:
    lot = a_lot(best_before=TODAY + 20 * DAY)
    assert look() == []
    set_up(near_date_days=20)
    assert look() == ["near_date"]
    assert in_words(standing()[0]) == f"{lot.label}, 100 mL left, best before 30 Jun 2025."


def test_a_lot_that_is_used_up_is_told_no_more() -> None:
    lot = a_lot(best_before=TODAY - DAY)
    assert look() == ["past_date"]
    spill(lot=lot, quantity=units(100))
    refresh_alerts(on=TODAY, at=AT, materials=[lot.material_id])
    assert [alert.kind for alert in standing()] == ["used_up"]


def test_an_opened_lot_is_told_once_it_is_older_than_it_keeps() -> None:
    lot = a_lot(opened_on=TODAY - 30 * DAY)
    Material.objects.filter(pk=lot.material_id).update(keeps_days=30)
    assert look() == []
    assert look(on=TODAY + DAY) == ["opened_long"]
    said = "opened 11 May 2025; it keeps 30 days once open, until 10 Jun 2025."
    assert in_words(standing()[0]).endswith(said)


def test_what_was_mixed_here_goes_off_by_its_own_day() -> None:
    medium = make_material(name="House medium", kind=Kind.MEDIUM, keeps_days=30)
    glue = make_lot(quantity=units(500), on=TODAY - DAY).material
    mix = make_batch(version=make_recipe(parts=[(glue, 1)], makes=medium), quantity=units(200))
    day = mix.lot.best_before
    assert day is not None
    look(on=day - 15 * DAY)
    assert standing("going_off") == []
    for later in (day - 14 * DAY, day + DAY):
        look(on=later)
        [alert] = standing("going_off")
        assert "mixed here, use by" in in_words(alert)


# Prices


def bought(material: Material, *pounds: int) -> Delivery:
    """100 mL at each of these prices, a month apart; the last one today."""
    for ago, price in enumerate(reversed(pounds[:-1]), start=1):
        make_lot(
            material=material, quantity=units(100), cost=money(price), on=TODAY - ago * timedelta(days=30)
        )
    return make_delivery(lines=[(material, units(100), money(pounds[-1]))])


def test_a_delivery_that_cost_more_than_usual_is_told_with_both_prices() -> None:
    paint = make_material(name="Gull White")
    bought(paint, 10, 10, 13)
    assert look() == ["price_jump"]
    assert (
        in_words(standing()[0])
        == "Paid £13.00 per 100 mL on 10 Jun 2025, usually £10.00 per 100 mL: 30% more."
    )


def test_the_studio_says_what_a_jump_is() -> None:
    bought(make_material(), 10, 10, 13)
    set_up(price_jump=300_000)
    assert look() == []


def test_a_price_is_no_news_after_a_while_and_none_when_its_delivery_is_reversed() -> None:
    delivery = bought(make_material(), 10, 10, 13)
    assert look() == ["price_jump"]
    assert look(on=TODAY + (NEWS_DAYS + 1) * DAY) == []
    assert look() == ["price_jump"]
    take_back(delivery.posting)
    assert look() == []


# Stocktakes


def test_a_stocktake_is_due_so_many_months_after_the_last_or_after_the_beginning() -> None:
    lot = make_lot(on=TODAY)
    assert look(on=TODAY + 182 * DAY) == []  # 9 December
    assert look(on=TODAY + 183 * DAY) == ["stocktake_due"]
    said = "No stocktake since you began on 10 Jun 2025; one is due every 6 months."
    assert in_words(standing()[0]) == said
    post_stocktake(
        counts=[Count(lot, units(1_000))], submission=make_submission(on=TODAY + DAY, at=AT + 183 * DAY)
    )
    assert look(on=TODAY + 183 * DAY) == []
    assert look(on=TODAY + 184 * DAY) == ["stocktake_due"]
    assert in_words(standing()[0]).startswith("The last stocktake was on 11 Jun 2025;")
    set_up(stocktake_months=0)
    assert look(on=TODAY + 184 * DAY) == []


def test_an_empty_studio_is_asked_for_nothing() -> None:
    assert look() == []
