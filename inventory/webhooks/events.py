"""What can be told of by webhook. Later rooms and higher floors register their own, in their app's `ready`."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from inventory.alerts.kinds import kind_of
from inventory.alerts.models import Alert
from inventory.sessions.models import Session
from studio.preferences.formatting import Formatter

if TYPE_CHECKING:
    from django.utils.functional import _StrOrPromise

Data = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Event:
    """Something that happens: its name, and what is said of it by the key of its row; None says nothing at all.

    `data` gets the key, whether money may be told, and the studio's formatter.
    """

    name: str
    label: "_StrOrPromise"
    data: Callable[[int, bool, Formatter], Data | None]


_EVENTS: dict[str, Event] = {}


def register(*events: Event) -> None:
    _EVENTS.update((event.name, event) for event in events)


def event_named(name: str) -> Event | None:
    return _EVENTS.get(name)


def events() -> list[Event]:
    return list(_EVENTS.values())


ALERT_RAISED, SESSION_LOGGED = "alert.raised", "session.logged"


def alert_raised(key: int, with_money: bool, formatter: Formatter) -> Data | None:
    """An alert as emails tell it: kinds that tell about money only where that was chosen."""
    alert = Alert.objects.filter(pk=key).first()
    kind = kind_of(alert.kind) if alert else None
    if alert is None or kind is None or (kind.needs_money and not with_money):
        return None
    return {
        "id": alert.pk,
        "kind": kind.code,
        "label": str(kind.label),
        "name": alert.figures.get("name") or str(kind.subject),
        "reason": kind.words(alert.figures, formatter),
        "since": alert.since.isoformat(),
        "page": kind.link(alert.cause),
    }


def session_logged(key: int, with_money: bool, formatter: Formatter) -> Data | None:
    session = Session.objects.filter(pk=key).first()
    if session is None:
        return None
    return {
        "id": session.pk,
        "title": str(session),
        "held_on": session.held_on.isoformat(),
        "minutes": session.minutes,
        "pours": [pour.label for pour in session.pours.order_by("number")],
    }
