"""Sales channels: where work is sold, and what each takes of a price."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from costing.pricing.actions import activate_channel, delete_channel, save_channel
from costing.pricing.forms import ChannelForm
from costing.pricing.models import SalesChannel
from costing.pricing.tables import ChannelTable
from studio.accounts.roles import owner_required
from studio.auditing.queries import last_change_number
from studio.pages.saving import delete_page, form_status, saved
from studio.pages.submissions import submission_from
from studio.preferences.context import current_studio
from studio.translation import _

SECTION = "settings"


@require_safe
@owner_required
def channels(request: HttpRequest) -> HttpResponse:
    table = ChannelTable(SalesChannel.objects.order_by("-is_active", "name"), request)
    return render(request, "channels/list.html", {"table": table, "section": SECTION})


@require_http_methods(["GET", "HEAD", "POST"])
@owner_required
def channel_edit(request: HttpRequest, pk: int | None = None) -> HttpResponse:
    """Change a sales channel; without a key, add one."""
    seen = last_change_number(SalesChannel, pk)
    row = None if pk is None else get_object_or_404(SalesChannel, pk=pk)
    form = ChannelForm(request.POST or None, studio=current_studio(request), channel=row, seen=seen)
    channel = saved(
        form,
        lambda: save_channel(
            form.facts(), submission=submission_from(request), channel=row, seen=form.cleaned_data["seen"]
        ),
    )
    if channel is not None:
        messages.success(request, _("“{name}” has been saved.", name=channel))
        return redirect("costing:channels")
    context = {
        "form": form,
        "channel": row,
        "title": _("Edit {name}", name=row) if row else _("Add a sales channel"),
        "back_url": reverse("costing:channels"),
        "back_label": _("Sales channels"),
        "delete_url": reverse("costing:channel-delete", args=[pk]) if row else "",
        "section": SECTION,
    }
    return render(request, "channels/edit.html", context, status=form_status(form))


@require_POST
@owner_required
def channel_activity(request: HttpRequest, pk: int) -> HttpResponse:
    """Deactivate a sales channel, or offer it again: which of them, the button says."""
    is_active = request.POST.get("active") == "yes"
    channel = activate_channel(
        get_object_or_404(SalesChannel, pk=pk), submission=submission_from(request), is_active=is_active
    )
    if is_active:
        messages.success(request, _("“{name}” is offered again.", name=channel))
    else:
        messages.success(request, _("“{name}” is no longer offered.", name=channel))
    return redirect("costing:channels")


@require_http_methods(["GET", "HEAD", "POST"])
@owner_required
def channel_delete(request: HttpRequest, pk: int) -> HttpResponse:
    channel = get_object_or_404(SalesChannel, pk=pk)
    return delete_page(
        request,
        channel,
        lambda seen: delete_channel(channel, submission=submission_from(request), seen=seen),
        back=reverse("costing:channel-edit", args=[pk]),
        then=reverse("costing:channels"),
        note=_("Only a channel without sales can be deleted; any other can be deactivated."),
    )
