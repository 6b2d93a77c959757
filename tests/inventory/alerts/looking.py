"""Alerts as the stories here look at them."""

from datetime import date, datetime
from typing import Any

from inventory.alerts.actions.refreshing import refresh_alerts
from inventory.alerts.kinds import kind_of
from inventory.alerts.models import Alert
from inventory.materials.models import Material
from studio.preferences.formatting import Formatter
from studio.preferences.models import Studio
from tests.days import AT, TODAY
from tests.making import make_lot, make_material, money, units


def standing(kind: str | None = None) -> list[Alert]:
    """The alerts that stand, of one kind or of all."""
    rows = Alert.objects.standing().order_by("pk")
    return list(rows.filter(kind=kind) if kind else rows)


def look(on: date = TODAY, at: datetime = AT) -> list[str]:
    """Look at everything; the kinds that stand then, in order."""
    refresh_alerts(on=on, at=at)
    return sorted(alert.kind for alert in standing())


def in_words(alert: Alert) -> str:
    kind = kind_of(alert.kind)
    assert kind is not None
    words = kind.words(alert.figures, Formatter.of(Studio.current()))
    return words.replace("\xa0", " ")


def set_up(**settings: Any) -> None:
    Studio.objects.filter(pk=1).update(**settings)


def low_material(**facts: Any) -> Material:
    """100 mL left of a paint to reorder at 250 mL; the alert is not raised yet."""
    paint = make_material(**({"reorder_level": units(250)} | facts))
    make_lot(material=paint, quantity=units(100), cost=money(2))
    return paint
