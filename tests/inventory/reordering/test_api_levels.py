"""Reorder levels for programs, and the same figures wherever a material's level is shown."""

from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from inventory.alerts.actions.refreshing import refresh_alerts
from inventory.alerts.queries import alert_levels
from inventory.materials.models import Material
from inventory.plans.queries import Promises
from inventory.reordering.queries import levels
from studio.preferences.formatting import Formatter
from studio.preferences.models import Studio
from tests.making import make_material, make_opening, make_owner, make_plan, make_surface, planned_line, units

pytestmark = pytest.mark.django_db


@pytest.fixture
def owner(client: Client) -> Client:
    client.force_login(make_owner())
    return client


def a_low_paint() -> Material:
    """400 mL of the 500 mL at which it is ordered, and a plan of today that takes some."""
    today = timezone.localdate()
    paint, board = make_material(name="Sail Loft White", reorder_level=units(500)), make_surface()
    make_opening(lines=[(paint, units(400), 0), (board, units(9), 0)])
    make_plan(planned_line(board, 2, paint), on=today)
    refresh_alerts(on=today, at=timezone.now())
    return paint


def test_levels_come_with_their_reasons_and_the_low_ones_alone(owner: Client) -> None:
    paint = a_low_paint()
    rows: list[dict[str, Any]] = owner.get(reverse("api-reorder-levels-list")).json()["results"]
    assert len(rows) == 2
    low = owner.get(reverse("api-reorder-levels-list"), {"low": "true"}).json()["results"]
    assert [row["material"]["id"] for row in low] == [paint.pk]
    assert low[0]["reason"].startswith("Your own level.")
    assert (low[0]["level"]["amount"], low[0]["calculated"], low[0]["is_low"]) == (units(500), None, True)
    assert low[0]["position"]["amount"] == units(400) - low[0]["reserved"]["amount"] < units(400)


def test_stock_page_plan_alert_and_programs_give_the_same_figures(owner: Client) -> None:
    paint = a_low_paint()
    level = levels(timezone.localdate(), materials=[paint.pk])[0]
    formatter = Formatter.of(Studio.current())
    reserved = formatter.short_quantity(level.reserved, paint.measure)
    reorder_at = formatter.short_quantity(level.level or 0, paint.measure)
    alerts = owner.get(reverse("inventory:alerts"))
    page = owner.get(reverse("inventory:material", args=[paint.pk]))
    for response in (alerts, page):
        text = response.content.decode()
        assert reserved in text
        assert reorder_at in text
        assert "400\u00a0mL" in text
    assert [row.level for row in alerts.context["table"].rows if row.level] == [level]
    assert page.context["level"] == level
    assert page.context["row"].stock.reserved == level.reserved
    shelf = owner.get(reverse("api-materials-detail", args=[paint.pk])).json()
    program = owner.get(reverse("api-reorder-levels-list"), {"low": "true"}).json()["results"][0]
    assert shelf["reserved"] == program["reserved"]
    assert shelf["reorder_at"] == program["level"]
    promises = Promises(timezone.localdate())
    figures = promises.on(timezone.localdate())[paint.pk]
    assert (figures.held, figures.reserved) == (level.stock, level.reserved)
    assert sum(quantity for _plan, quantity in promises.plans_that_take(paint.pk)) == level.reserved
    assert alert_levels()[paint.pk] == level.level
