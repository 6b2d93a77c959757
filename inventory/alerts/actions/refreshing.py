"""Alerts raised, kept and cleared by what the rules find.

Nothing is written when a page is opened. After a commit the alerts of the materials that it touched follow, by the
rules that are cheap enough; the daily run, and the button on the page, look at everything.
"""

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import date, datetime
from functools import partial

from django.db import transaction
from django.db.models import Q, QuerySet
from django.dispatch import Signal
from django.utils.timezone import get_current_timezone

from inventory.alerts.kinds import Cause, Look, Rule, rules, rules_for
from inventory.alerts.models import Alert, AlertCheck, AlertEvent, AlertHappening
from inventory.ledger.posting import lock
from studio.auditing.chain import sealing
from studio.auditing.writing import change_all, create_all
from studio.preferences.models import Studio

alerts_raised = Signal()  # `alerts`, `at`: in the transaction that raised them


@dataclass(frozen=True, slots=True)
class Refreshed:
    """What a look at the causes changed."""

    raised: list[Alert]
    cleared: list[Alert]


@dataclass(frozen=True, slots=True)
class _News:
    """Where alerts differ from what the rules find: those to be changed or cleared, and causes without one."""

    followed: list[tuple[Alert, Cause]]
    cleared: list[Alert]
    causes: list[Cause]

    def __bool__(self) -> bool:
        return bool(self.followed or self.cleared or self.causes)


@transaction.atomic
@sealing()
def refresh_alerts(
    *, on: date, at: datetime, materials: Collection[int] | None = None, kinds: Collection[str] | None = None
) -> Refreshed:
    """Raise, follow and clear alerts by what stands on a day. Running it again changes nothing.

    `materials` looks at those alone, which is what to do after a posting that touched only them; `kinds` at those
    kinds. One alert at most stands for a cause; it clears when the cause is gone.
    """
    # No posting and no other run may come between reading the causes and writing the alerts.
    lock()
    news = _news(on, materials, kinds)
    _follow(news.followed, at=at)
    _clear(news.cleared, at=at)
    raised = _raise(news.causes, at=at)
    if materials is None and kinds is None:
        AlertCheck.objects.update_or_create(day=on, defaults={"at": at})
    return Refreshed(raised, news.cleared)


def _news(on: date, materials: Collection[int] | None, kinds: Collection[str] | None) -> _News:
    standing = _standing(materials, kinds)
    chosen = _rules(materials, kinds, standing)
    codes = {kind.code for rule in chosen for kind in rule.kinds}
    look = Look(on, Studio.current(), None if materials is None else frozenset(materials))
    found = {(cause.kind, cause.key): cause for rule in chosen for cause in rule.find(look)}
    kept = {(alert.kind, alert.cause): alert for alert in standing if alert.kind in codes}
    return _News(
        followed=[
            (alert, found[key]) for key, alert in kept.items() if key in found and _differ(alert, found[key])
        ],
        cleared=[alert for cause, alert in kept.items() if cause not in found],
        causes=[cause for key, cause in found.items() if key not in kept and cause.raise_new],
    )


def _differ(alert: Alert, cause: Cause) -> bool:
    return alert.figures != cause.figures or cause.is_ordered != (alert.ordered_at is not None)


def refresh_changed(*, materials: Collection[int], at: datetime, **signal: object) -> None:
    """Bring the alerts of materials up to date after their stock has changed: connected when the app starts.

    Most changes of stock change no alert. Nobody who posts next waits for that answer: it is looked up without the
    lock, and once more with it if there is something to write. Whoever commits in between looks again afterwards.
    """
    on = at.astimezone(get_current_timezone()).date()
    if _news(on, materials, None):
        refresh_alerts(on=on, at=at, materials=materials)


def recheck_after_commit(*, kinds: Collection[str], key: str, at: datetime) -> None:
    """Once the transaction is committed, see whether the alerts of these kinds about one subject still have a cause."""
    transaction.on_commit(partial(_recheck, kinds, key, at), robust=True)


def _recheck(kinds: Collection[str], key: str, at: datetime) -> None:
    about = Alert.objects.standing().filter(kind__in=kinds, cause=key).values_list("kind", flat=True)
    open_kinds = list(about)
    if open_kinds:
        refresh_alerts(on=at.astimezone(get_current_timezone()).date(), at=at, kinds=open_kinds)


def clear_alerts_of(*, material: int, at: datetime) -> None:
    """Clear what stands about a material that is about to be deleted."""
    _clear(list(Alert.objects.standing().filter(material=material)), at=at)


def _standing(materials: Collection[int] | None, kinds: Collection[str] | None) -> list[Alert]:
    """The alerts that a look could change."""
    standing: QuerySet[Alert] = Alert.objects.standing().order_by("pk")
    if kinds is not None:
        standing = standing.filter(kind__in=kinds)
    if materials is not None:
        general = [kind.code for rule in rules() if rule.rechecked for kind in rule.kinds]
        standing = standing.filter(Q(material__in=materials) | Q(material__isnull=True, kind__in=general))
    return list(standing)


def _rules(
    materials: Collection[int] | None, kinds: Collection[str] | None, standing: list[Alert]
) -> list[Rule]:
    """Which rules to ask; after a change of stock those that are cheap, or have an alert to look after."""
    chosen = rules() if kinds is None else rules_for(kinds)
    if materials is None:
        return chosen
    open_kinds = {alert.kind for alert in standing}
    return [
        rule
        for rule in chosen
        if rule.at_once or (rule.rechecked and any(kind.code in open_kinds for kind in rule.kinds))
    ]


def _raise(causes: Iterable[Cause], *, at: datetime) -> list[Alert]:
    raised = create_all(
        Alert(
            kind=cause.kind,
            cause=cause.key,
            material_id=cause.material,
            since=cause.since,
            figures=cause.figures,
            raised_at=at,
            ordered_at=at if cause.is_ordered else None,
        )
        for cause in causes
    )
    note(raised, AlertHappening.RAISED, at=at)
    note([alert for alert in raised if alert.ordered_at], AlertHappening.ORDERED, at=at)
    if raised:
        alerts_raised.send(sender=None, alerts=raised, at=at)
    return raised


def _follow(pairs: Iterable[tuple[Alert, Cause]], *, at: datetime) -> None:
    """Give alerts that differ today's figures, and say where an order has begun or ceased to take care of one."""
    moved, ordered, reopened = [], [], []
    for alert, cause in pairs:
        if cause.is_ordered and alert.ordered_at is None:
            alert.ordered_at = at
            ordered.append(alert)
        elif not cause.is_ordered and alert.ordered_at is not None:
            alert.ordered_at = None
            reopened.append(alert)
        alert.figures = cause.figures
        moved.append(alert)
    change_all(moved, "figures", "ordered_at")
    note(ordered, AlertHappening.ORDERED, at=at)
    note(reopened, AlertHappening.REOPENED, at=at)


def _clear(alerts: list[Alert], *, at: datetime) -> None:
    for alert in alerts:
        alert.cleared_at = at
    change_all(alerts, "cleared_at")
    note(alerts, AlertHappening.CLEARED, at=at)


def note(alerts: Iterable[Alert], what: AlertHappening, *, at: datetime) -> None:
    """Keep what happened to alerts of itself."""
    create_all(AlertEvent(alert=alert, what=what, at=at) for alert in alerts)
