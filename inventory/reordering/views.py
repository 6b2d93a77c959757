"""Reorder alerts: what to order, how much and from whom."""

from dataclasses import replace

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from inventory.reordering.actions import not_reached, refresh_alerts
from inventory.reordering.models import Alert
from inventory.reordering.queries import standing_alerts
from inventory.reordering.tables import AlertTable
from inventory.shopping.queries import shopping_list
from studio.accounts.roles import EVERYONE, WORKERS, current_user, role_required
from studio.pages.tables import list_page
from studio.translation import _

CLEARED_SHOWN = 20


@require_safe
@role_required(*EVERYONE)
def alerts(request: HttpRequest) -> HttpResponse:
    context = {
        "cleared": Alert.objects.filter(cleared_at__isnull=False)
        .select_related("material")
        .order_by("-cleared_at", "-pk")[:CLEARED_SHOWN],
        "not_reached": not_reached() if current_user(request).is_owner else {},
    }
    today = timezone.localdate()
    standing = standing_alerts(today)
    buys = shopping_list(today).buys([row.alert.material_id for row in standing]) if standing else {}
    rows = [replace(row, buys=tuple(buys[row.alert.material_id])) for row in standing]
    table = AlertTable(rows, request)
    return list_page(request, "alerts/list.html", table, context)


@require_POST
@role_required(*WORKERS)
def alerts_refresh(request: HttpRequest) -> HttpResponse:
    raised, cleared = refresh_alerts(on=timezone.localdate(), at=timezone.now())
    messages.success(
        request,
        _(
            "Stock checked. New alerts: {raised}, cleared: {cleared}.",
            raised=len(raised),
            cleared=len(cleared),
        ),
    )
    return redirect("inventory:alerts")
