"""Alerts as they are read: those that ask for something, with their reason in the reader's language."""

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime

from django.db.models import Case, Count, QuerySet, Value, When

from inventory.alerts.kinds import Kind, hidden_from, kind_of, kinds
from inventory.alerts.models import Alert, AlertCheck, AlertQuerySet, AlertState, Digest, in_state
from inventory.alerts.rules.levels import STOCK_KINDS, figures_of
from inventory.materials.queries import Buy
from inventory.plans.queries import Promises
from inventory.reordering.queries import Level, levels
from studio.accounts.models import User
from studio.preferences.formatting import Formatter


@dataclass(frozen=True, slots=True)
class ShownAlert:
    """An alert as somebody reads it; of a low material with its level of today, which says why and what to buy."""

    alert: Alert
    kind: Kind
    reason: str
    state: AlertState
    level: Level | None = None
    buys: tuple[Buy, ...] = ()  # what the shopping list says, which whoever shows it asks

    @property
    def name(self) -> str:
        """What it is about."""
        return self.alert.figures["name"] or str(self.kind.subject)

    @property
    def url(self) -> str:
        return self.kind.link(self.alert.cause)

    @property
    def why(self) -> str:
        """The reason; of a low material also where its level comes from."""
        return f"{self.reason} {self.level.reason}" if self.level else self.reason


def open_alerts(on: date) -> AlertQuerySet:
    """Alerts that ask for something on a day, oldest first."""
    return Alert.objects.waiting(on).filter(kind__in=[kind.code for kind in kinds()]).order_by("pk")


def alerts_for(user: User) -> AlertQuerySet:
    """Every alert that a person may see, standing or cleared."""
    known = {kind.code for kind in kinds()} - set(hidden_from(sees_money=user.sees_money))
    return Alert.objects.filter(kind__in=known)


def alert_levels() -> dict[int, int]:
    """The reorder level of every material that has to be ordered, by material."""
    low = Alert.objects.standing().filter(kind__in=STOCK_KINDS, ordered_at__isnull=True).order_by()
    return {
        material: figures["level"]
        for material, figures in low.values_list("material_id", "figures")
        if material is not None
    }


def shown(
    alerts: Iterable[Alert],
    *,
    on: date,
    formatter: Formatter,
    explained: bool = True,
    promises: Promises | None = None,
) -> list[ShownAlert]:
    """Alerts in words, the most urgent kind first: the same few queries however many there are.

    Low materials have the figures of today's stock; with `explained` the reason of their level too.
    """
    known = [(alert, kind) for alert in alerts if (kind := kind_of(alert.kind)) is not None]
    low = [alert for alert, kind in known if kind.code in STOCK_KINDS and alert.cleared_at is None]
    now = _levels(low, on, promises) if explained else {}
    rows = [_shown(alert, kind, on, formatter, now) for alert, kind in known]
    return sorted(rows, key=lambda row: (row.kind.urgency, row.name.casefold(), row.alert.pk))


def _levels(alerts: Collection[Alert], on: date, promises: Promises | None) -> dict[int, Level]:
    materials = [alert.material_id for alert in alerts if alert.material_id is not None]
    found = levels(on, materials=materials, promises=promises) if materials else []
    return {level.material.pk: level for level in found if level.level is not None}


def _shown(alert: Alert, kind: Kind, on: date, formatter: Formatter, now: Mapping[int, Level]) -> ShownAlert:
    level = None
    if kind.code in STOCK_KINDS and alert.cleared_at is None:
        level = now.get(alert.material_id or 0)
    figures = figures_of(level) if level else alert.figures
    return ShownAlert(alert, kind, kind.words(figures, formatter), alert.state_on(on), level)


def grouped(rows: Iterable[ShownAlert]) -> list[tuple[Kind, list[ShownAlert]]]:
    """Rows by kind, the most urgent kind first."""
    groups: dict[str, tuple[Kind, list[ShownAlert]]] = {}
    for row in rows:
        groups.setdefault(row.kind.code, (row.kind, []))[1].append(row)
    return list(groups.values())


def by_urgency(alerts: QuerySet[Alert]) -> QuerySet[Alert]:
    """The most urgent kind first, and of each the newest first."""
    places = [When(kind=kind.code, then=Value(kind.urgency)) for kind in kinds()]
    return alerts.order_by(Case(*places, default=Value(0)), "-raised_at", "-pk")


def counts_by_kind(alerts: QuerySet[Alert]) -> dict[str, int]:
    """How many there are of each kind."""
    return dict(alerts.order_by().values_list("kind").annotate(Count("pk")))


def counts_by_state(user: User, on: date) -> dict[str, int]:
    """How many of the standing alerts that a person may see are in each state."""
    quiet = (AlertState.ACKNOWLEDGED, AlertState.SNOOZED, AlertState.ORDERED)
    counts = {state.value: Count("pk", filter=in_state(state, on)) for state in quiet}
    return alerts_for(user).aggregate(**counts)


def last_check() -> AlertCheck | None:
    """When everything was looked at last."""
    return AlertCheck.objects.order_by("-day").first()


def not_reached(*, since: datetime) -> dict[str, str]:
    """The addresses that an email written since a moment has not reached, and why: the next run tries again."""
    waiting = Digest.objects.filter(sent_at__isnull=True, written_at__gte=since).exclude(problem="")
    return dict(waiting.order_by("day").values_list("address", "problem"))
