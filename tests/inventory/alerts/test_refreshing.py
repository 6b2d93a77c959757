"""Alerts of low stock: one for a cause, quiet once ordered, cleared by themselves, their history kept."""

from datetime import datetime, timedelta
from typing import Any

import pytest
from django.db import IntegrityError, connection, transaction
from django.test.utils import CaptureQueriesContext

from inventory.alerts.actions.refreshing import refresh_alerts, refresh_changed
from inventory.alerts.models import Alert, AlertCheck, AlertEvent
from inventory.alerts.queries import alert_levels
from inventory.materials.models import Material
from inventory.purchasing.models import Order
from tests.days import AT, DAY, TODAY
from tests.inventory.alerts.looking import in_words, look, low_material, standing
from tests.making import make_delivery, make_lot, make_material, make_order, money, spill, units

pytestmark = pytest.mark.django_db
LATER = AT + timedelta(hours=1)


def refresh(at: datetime = AT) -> tuple[list[Material | None], list[Material | None]]:
    refreshed = refresh_alerts(on=TODAY, at=at)
    return [alert.material for alert in refreshed.raised], [alert.material for alert in refreshed.cleared]


def a_low_material(**facts: Any) -> Material:
    return make_material(reorder_level=units(100), **facts)


def history() -> list[str]:
    return [event.what for event in AlertEvent.objects.order_by("pk")]


def test_an_alert_is_raised_at_the_level_and_tells_why_in_figures() -> None:
    paint = a_low_material()
    make_lot(material=paint, quantity=units(100))
    assert refresh() == ([paint], [])
    alert = Alert.objects.get()
    assert (alert.kind, alert.cause, alert.since, alert.raised_at) == ("to_reorder", str(paint.pk), TODAY, AT)
    assert alert.figures == {
        "name": paint.name,
        "measure": "volume",
        "stock": units(100),
        "on_order": 0,
        "due": 0,
        "level": units(100),
    }
    assert in_words(alert) == "100 mL left; reorder level 100 mL."


def test_running_it_again_raises_nothing_more() -> None:
    a_low_material()
    refresh()
    assert refresh() == ([], [])
    assert Alert.objects.count() == 1
    assert history() == ["raised"]


def test_a_change_of_stock_that_changes_no_alert_holds_nobody_up() -> None:
    paint = a_low_material()
    make_lot(material=paint, quantity=units(500))
    with CaptureQueriesContext(connection) as looked:
        refresh_changed(materials=[paint.pk], at=AT)
    assert not any("inventory_books" in each["sql"] for each in looked.captured_queries)
    assert not Alert.objects.exists()


def test_a_change_of_stock_raises_follows_and_clears_what_it_must() -> None:
    paint = a_low_material()
    lot = make_lot(material=paint, quantity=units(100))
    refresh_changed(materials=[paint.pk], at=AT)
    spill(lot=lot, quantity=units(40))
    refresh_changed(materials=[paint.pk], at=AT)
    assert Alert.objects.get().figures["stock"] == units(60)
    make_lot(material=paint, quantity=units(500))
    refresh_changed(materials=[paint.pk], at=LATER)
    assert Alert.objects.get().cleared_at == LATER
    assert history() == ["raised", "cleared"]


def test_what_has_run_out_is_told_as_that_alone() -> None:
    low_material()
    a_low_material()
    assert look() == ["out", "to_reorder"]


def test_it_clears_by_itself_when_stock_rises_above_the_level() -> None:
    paint = a_low_material()
    refresh()
    make_lot(material=paint, quantity=units(101))
    assert refresh(LATER) == ([], [paint])
    assert Alert.objects.get().cleared_at == LATER
    assert history() == ["raised", "cleared"]


def test_an_order_makes_it_quiet_and_its_arrival_clears_it() -> None:
    paint = low_material()
    refresh()
    order = make_order((paint, units(500)))
    assert refresh(LATER) == ([], [])
    alert = Alert.objects.get()
    assert (alert.ordered_at, alert.cleared_at) == (LATER, None)
    assert in_words(alert) == "100 mL left, 500 mL on order; reorder level 250 mL."
    assert alert_levels() == {}
    line = order.lines.get()
    make_delivery(lines=[(paint, units(100), money(2))], supplier=order.supplier, order=order)
    refresh()
    assert standing() == [alert]  # half of it is here, and not above the level yet
    make_delivery(lines=[(paint, line.quantity - units(100), money(8))], supplier=order.supplier, order=order)
    assert refresh() == ([], [paint])
    assert history() == ["raised", "ordered", "cleared"]


def test_an_order_that_is_closed_without_goods_opens_it_again() -> None:
    paint = low_material()
    refresh()
    make_order((paint, units(500)))
    refresh()
    Order.objects.update(is_closed=True)
    refresh()
    assert Alert.objects.get().ordered_at is None
    assert history() == ["raised", "ordered", "reopened"]
    assert alert_levels() == {paint.pk: units(250)}


def test_what_is_ordered_before_it_runs_low_raises_nothing_until_it_is_out() -> None:
    paint = low_material()
    make_order((paint, units(500)))
    assert look() == []
    other = a_low_material()
    make_order((other, units(500)))
    assert look() == ["out"]
    assert Alert.objects.get().ordered_at is not None
    assert history() == ["raised", "ordered"]


def test_an_archived_material_needs_no_alert() -> None:
    paint = a_low_material()
    refresh()
    Material.objects.filter(pk=paint.pk).update(is_archived=True)
    assert refresh() == ([], [paint])


def test_it_can_be_raised_again_after_it_cleared() -> None:
    paint = a_low_material()
    refresh()
    Material.objects.filter(pk=paint.pk).update(reorder_level=None)
    refresh()
    Material.objects.filter(pk=paint.pk).update(reorder_level=5)
    assert refresh() == ([paint], [])
    assert [alert.material for alert in standing()] == [paint]
    assert Alert.objects.count() == 2


def test_a_standing_alert_follows_the_figures() -> None:
    paint = low_material()
    refresh()
    make_lot(material=paint, quantity=units(50), cost=money(1))
    refresh()
    assert Alert.objects.get().figures["stock"] == units(150)
    assert history() == ["raised"]


def test_looking_at_chosen_materials_leaves_the_others_alone() -> None:
    chosen, other = a_low_material(), a_low_material()
    refresh_alerts(on=TODAY, at=AT, materials=[chosen.pk])
    assert [alert.material for alert in standing()] == [chosen]
    refresh()
    Material.objects.update(reorder_level=None)
    refresh_alerts(on=TODAY, at=AT, materials=[chosen.pk])
    assert [alert.material for alert in standing()] == [other]


def test_a_look_at_everything_is_kept_by_day() -> None:
    paint = a_low_material()
    refresh_alerts(on=TODAY, at=AT, materials=[paint.pk])
    assert not AlertCheck.objects.exists()
    refresh()
    refresh(LATER)
    refresh_alerts(on=TODAY + DAY, at=AT + DAY)
    assert list(AlertCheck.objects.values_list("day", "at")) == [(TODAY + DAY, AT + DAY), (TODAY, LATER)]


def test_the_database_refuses_a_second_open_alert() -> None:
    a_low_material()
    refresh()
    first = Alert.objects.get()
    first.pk = None
    with pytest.raises(IntegrityError), transaction.atomic():
        first.save(force_insert=True)


@pytest.mark.parametrize(
    "wrong",
    [
        {"what": "forgotten"},
        {"what": "snoozed"},
        {"what": "raised", "until": TODAY},
        {"what": "acknowledged"},
    ],
)
def test_the_database_refuses_events_that_make_no_sense(wrong: dict[str, Any]) -> None:
    a_low_material()
    refresh()
    with pytest.raises(IntegrityError), transaction.atomic():
        AlertEvent.objects.create(alert=Alert.objects.get(), at=AT, **wrong)


def test_a_material_that_is_deleted_leaves_its_alerts_cleared_with_its_name() -> None:
    paint = a_low_material(name="Ebb grey")
    refresh()
    paint.delete()
    alert = Alert.objects.get()
    assert (alert.material, alert.figures["name"]) == (None, "Ebb grey")
    assert alert.cleared_at is not None
    assert look() == []
