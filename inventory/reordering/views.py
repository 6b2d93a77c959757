"""Reorder alerts: what to order, how much and from whom."""

from dataclasses import dataclass

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from inventory.reordering import queries as reorder
from inventory.reordering.actions import not_reached, open_alerts, refresh_alerts
from inventory.reordering.models import Alert
from inventory.reordering.queries import Level
from studio.accounts.roles import EVERYONE, WORKERS, current_user, role_required
from studio.translation import _

CLEARED_SHOWN = 20


@dataclass(frozen=True, slots=True)
class ShownAlert:
    """An alert with the shelf as it stands now; where a material is no longer followed, as it stood when raised."""

    alert: Alert
    now: Level | None

    @property
    def stock(self) -> int:
        return self.alert.stock if self.now is None else self.now.stock

    @property
    def on_order(self) -> int:
        return self.alert.on_order if self.now is None else self.now.on_order

    @property
    def level(self) -> int:
        return self.alert.level if self.now is None or self.now.level is None else self.now.level

    @property
    def reason(self) -> str:
        return self.alert.reason if self.now is None else self.now.reason


@require_safe
@role_required(*EVERYONE)
def alerts(request: HttpRequest) -> HttpResponse:
    found = open_alerts()
    levels = {
        level.material.pk: level
        for level in reorder.levels(timezone.localdate(), materials=[alert.material_id for alert in found])
    }
    context = {
        "rows": [ShownAlert(alert, levels.get(alert.material_id)) for alert in found],
        "cleared": Alert.objects.filter(cleared_at__isnull=False)
        .select_related("material")
        .order_by("-cleared_at", "-pk")[:CLEARED_SHOWN],
        "may_log": current_user(request).may_write,
        "not_reached": not_reached() if current_user(request).is_owner else {},
    }
    return render(request, "alerts/list.html", context)


@require_POST
@role_required(*WORKERS)
def alerts_refresh(request: HttpRequest) -> HttpResponse:
    raised, cleared = refresh_alerts(on=timezone.localdate(), at=timezone.now())
    messages.success(
        request,
        _(
            "Stock checked: {raised} alerts raised, {cleared} cleared.",
            raised=len(raised),
            cleared=len(cleared),
        ),
    )
    return redirect("inventory:alerts")
