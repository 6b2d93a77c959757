"""Sales channels: where work is sold, and what each takes of a price."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_POST, require_safe

from costing.pricing.forms import ChannelForm
from costing.pricing.models import SalesChannel
from costing.pricing.tables import ChannelTable
from studio.accounts.roles import owner_required
from studio.auditing.reference_rows import set_columns
from studio.pages.reference import DeleteView, EditView
from studio.pages.saving import submission_from
from studio.pages.tables import list_page
from studio.setup import menu as settings_menu
from studio.translation import _

SECTION = "settings"


@require_safe
@owner_required
def channels(request: HttpRequest) -> HttpResponse:
    table = ChannelTable(SalesChannel.objects.order_by("-is_active", "name"), request)
    return list_page(request, "channels/list.html", table, settings_menu.way_back())


class ChannelEdit(EditView):
    model, form_class = SalesChannel, ChannelForm
    template_name, context_object_name = "channels/edit.html", "channel"
    edit_name, list_name, section = "costing:channel", "costing:channels", SECTION
    list_label, add_title = gettext_lazy("Sales channels"), gettext_lazy("Add a sales channel")


class ChannelDelete(DeleteView):
    model = SalesChannel
    edit_name, list_name, section = "costing:channel", "costing:channels", SECTION
    note = gettext_lazy("Only a channel without sales can be deleted; any other can be deactivated.")


@require_POST
@owner_required
def channel_activity(request: HttpRequest, pk: int) -> HttpResponse:
    """Deactivate a sales channel, or offer it again: which of them, the button says."""
    is_active = request.POST.get("active") == "yes"
    channel = get_object_or_404(SalesChannel, pk=pk)
    set_columns(channel, submission=submission_from(request), is_active=is_active)
    if is_active:
        messages.success(request, _("“{name}” is offered again.", name=channel))
    else:
        messages.success(request, _("“{name}” is no longer offered.", name=channel))
    return redirect("costing:channels")
