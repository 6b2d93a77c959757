"""Webhooks: where to, what is told, the secret, and the log. For owners."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext_lazy
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST, require_safe

from inventory.webhooks.actions import renew_secret, restart, retry
from inventory.webhooks.forms import WebhookForm
from inventory.webhooks.models import Webhook, WebhookMessage
from inventory.webhooks.tables import WebhookMessageTable, WebhookTable
from studio.accounts.roles import owner_required
from studio.auditing.reference_rows import set_columns
from studio.pages.reference import DeleteView, EditView
from studio.pages.saving import submission_from
from studio.pages.tables import list_page, page_of
from studio.translation import _

PER_PAGE = 50
WEBHOOKS = "inventory:webhooks"


@require_safe
@owner_required
def webhooks(request: HttpRequest) -> HttpResponse:
    return list_page(request, "webhooks/list.html", WebhookTable(Webhook.objects.all(), request), {})


class WebhookEdit(EditView):
    model, form_class = Webhook, WebhookForm
    edit_name, page_name, list_name = "inventory:webhook", "inventory:webhook", WEBHOOKS
    list_label, add_title = gettext_lazy("Webhooks"), gettext_lazy("Add a webhook")

    def message(self, row: Any) -> str:
        return super().message(row) if row.seed else _("Saved. Now make its secret: nothing is sent before.")


class WebhookDelete(DeleteView):
    model = Webhook
    edit_name, list_name = "inventory:webhook", WEBHOOKS
    note = gettext_lazy("Its log goes with it, and what waits is not sent.")


@require_safe
@owner_required
def webhook(request: HttpRequest, pk: int) -> HttpResponse:
    return _page(request, get_object_or_404(Webhook, pk=pk))


@never_cache
@require_POST
@owner_required
def webhook_secret(request: HttpRequest, pk: int) -> HttpResponse:
    """A new secret, shown in this one answer."""
    row = get_object_or_404(Webhook, pk=pk)
    return _page(request, row, secret=renew_secret(row))


@require_POST
@owner_required
def webhook_switch(request: HttpRequest, pk: int) -> HttpResponse:
    """On or off: which of them, the button says."""
    row = get_object_or_404(Webhook, pk=pk)
    is_on = request.POST.get("on") == "yes"
    set_columns(row, submission=submission_from(request), is_on=is_on)
    restart(row)
    messages.success(request, _("The webhook is on.") if is_on else _("The webhook is off."))
    return redirect("inventory:webhook", pk=pk)


@require_POST
@owner_required
def webhook_retry(request: HttpRequest, pk: int) -> HttpResponse:
    message = get_object_or_404(WebhookMessage, pk=pk)
    retry(message, at=timezone.now())
    messages.success(request, _("It is sent again with the next run."))
    return redirect("inventory:webhook", pk=message.webhook_id)


def _page(request: HttpRequest, row: Webhook, *, secret: str = "") -> HttpResponse:
    page_obj = page_of(request, row.messages.all(), PER_PAGE)
    context = {
        "title": row.host,
        "webhook": row,
        "secret": secret,
        "page_obj": page_obj,
        "back_url": reverse(WEBHOOKS),
        "back_label": _("Webhooks"),
        "section": WEBHOOKS,
    }
    context["table"] = WebhookMessageTable(list(page_obj), request)
    return render(request, "webhooks/page.html", context)
