"""Reorder alerts: raised and cleared by what the shelf holds, and claimed for mailing so that none is lost."""

from collections.abc import Collection
from datetime import date, datetime, timedelta

from django.db import transaction
from django.utils import translation
from django.utils.timezone import get_current_timezone

from inventory.ledger.posting import lock
from inventory.reordering import queries as reorder
from inventory.reordering.models import Alert, AlertMail
from studio.preferences.models import Studio

# A mail is sent in seconds; a claim this old belongs to a run that died before it could say so.
CLAIM_HOLDS = timedelta(minutes=10)
REASON_LENGTH = PROBLEM_LENGTH = 300


@transaction.atomic
def refresh_alerts(
    *, on: date, at: datetime, materials: Collection[int] | None = None
) -> tuple[list[Alert], list[Alert]]:
    """Raise and clear alerts by today's stock; return those raised and those cleared. Running it again changes nothing.

    `materials` looks at those alone, which is what to do after a posting that touched only them. One alert at most is
    open for a material; it clears when stock + on order, less what is reserved, rises above the level, or the material
    needs none any more. While it stands, its level follows today's.
    """
    # No posting and no other run may come between reading the stock and writing the alert.
    lock()
    studio = Studio.current()
    with translation.override(studio.language):  # its reason is kept, for whoever reads it
        now = reorder.levels(on, materials=materials, studio=studio, keep=True)
    low = {level.material.pk: level for level in now if level.is_low}
    standing = Alert.objects.filter(cleared_at__isnull=True).select_related("material")
    if materials is not None:
        standing = standing.filter(material__in=materials)
    cleared = [alert for alert in standing if alert.material_id not in low]
    known = {alert.material_id for alert in standing}
    raised = [
        Alert(
            material=level.material,
            raised_at=at,
            stock=level.stock,
            on_order=level.on_order,
            level=level.level or 0,
            reason=level.reason[:REASON_LENGTH],
        )
        for pk, level in low.items()
        if pk not in known
    ]
    for alert in cleared:
        alert.cleared_at = at
    Alert.objects.bulk_update(cleared, ["cleared_at"])
    moved = [
        alert for alert in standing if alert.material_id in low and _follow(alert, low[alert.material_id])
    ]
    Alert.objects.bulk_update(moved, ["level", "reason"])
    return Alert.objects.bulk_create(raised), cleared


def _follow(alert: Alert, now: reorder.Level) -> bool:
    """Give a standing alert today's level and its reason; tell whether they are others."""
    before = alert.level, alert.reason
    alert.level, alert.reason = now.level or 0, now.reason[:REASON_LENGTH]
    return before != (alert.level, alert.reason)


def refresh_changed(*, materials: Collection[int], at: datetime, **signal: object) -> None:
    """Bring the alerts of materials up to date after their stock has changed: connected when the app starts."""
    refresh_alerts(on=at.astimezone(get_current_timezone()).date(), at=at, materials=materials)


@transaction.atomic
def claim(*, at: datetime, besides: Collection[int] = ()) -> list[Alert]:
    """Take on the open alerts that nobody has mailed, as one mail, so that no other run mails them too.

    `besides` are alerts that this run has had its turn with.

    A claim whose mail failed, or whose run died, is taken over first: whole and alone, cleared alerts and all, so that
    its mail goes out again under the same name and a reader's mail program can tell the repeat.
    """
    lock()
    unmailed = Alert.objects.filter(mailed_at__isnull=True).exclude(pk__in=besides)
    unmailed = unmailed.select_related("material").order_by("pk")
    waiting = unmailed.filter(cleared_at__isnull=True)
    abandoned = waiting.filter(claimed_at__lte=at - CLAIM_HOLDS).order_by("claimed_at").first()
    if abandoned is not None:
        claimed = list(unmailed.filter(claimed_at=abandoned.claimed_at))
    else:
        claimed = list(waiting.filter(claimed_at__isnull=True))
    for alert in claimed:
        alert.claimed_at = at
    Alert.objects.bulk_update(claimed, ["claimed_at"])
    return claimed


@transaction.atomic
def note_mail(claimed: list[Alert], *, address: str, at: datetime, problem: str = "") -> None:
    """Say whether an address took a claimed mail, or what went wrong; the claim then holds for the next address."""
    words = " ".join(problem.replace("\0", "").split())[:PROBLEM_LENGTH]
    AlertMail.objects.bulk_create(
        [AlertMail(alert=alert, address=address, tried_at=at, problem=words) for alert in claimed],
        update_conflicts=True,
        unique_fields=["alert", "address"],
        update_fields=["tried_at", "problem"],
    )
    Alert.objects.filter(pk__in=[alert.pk for alert in claimed]).update(claimed_at=at)


def took(claimed: list[Alert]) -> set[str]:
    """The addresses that have taken a claimed mail."""
    taken = AlertMail.objects.filter(alert__in=claimed, problem="")
    return set(taken.values_list("address", flat=True))


def not_reached() -> dict[str, str]:
    """The addresses that an open alert has not reached, and what went wrong last: the next mailing tries again."""
    waiting = AlertMail.objects.exclude(problem="").filter(
        alert__mailed_at__isnull=True, alert__cleared_at__isnull=True
    )
    return dict(waiting.order_by("tried_at").values_list("address", "problem"))


def settle_claim(claimed: list[Alert], *, mailed_at: datetime) -> None:
    """Say that a claimed mail went out to everybody."""
    Alert.objects.filter(pk__in=[alert.pk for alert in claimed]).update(mailed_at=mailed_at)


def give_up_claim(claimed: list[Alert], *, at: datetime) -> None:
    """Say that a claimed mail did not reach everybody: the next run takes the same alerts over at once."""
    Alert.objects.filter(pk__in=[alert.pk for alert in claimed]).update(claimed_at=at - CLAIM_HOLDS)
