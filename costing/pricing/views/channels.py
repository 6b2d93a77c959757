"""Sales channels: where work is sold, and what each takes of a price."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone
from django.utils.functional import cached_property
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_POST, require_safe

from costing.pricing.actions import add_channel
from costing.pricing.forms.channels import ChannelForm, NewChannelForm, TermsForm
from costing.pricing.models import ChannelTerms, SalesChannel
from costing.pricing.tables import ChannelTable, TermsTable
from costing.pricing.terms import terms_on
from studio.accounts.roles import owner_required
from studio.auditing.reference_rows import set_columns
from studio.pages.reference import DeleteView, EditView, RowView
from studio.pages.saving import submission_from
from studio.pages.tables import list_page
from studio.setup import menu as settings_menu
from studio.translation import _
from studio.values.numbers import read_small_whole

SECTION = "settings"


@require_safe
@owner_required
def channels(request: HttpRequest) -> HttpResponse:
    rows = SalesChannel.objects.order_by("-is_active", "name").prefetch_related("terms")
    table = ChannelTable([terms_on(row, timezone.localdate()) for row in rows], request)
    return list_page(request, "channels/list.html", table, settings_menu.way_back())


class ChannelView(EditView):
    model = SalesChannel
    edit_name, list_name, section = "costing:channel", "costing:channels", SECTION
    list_label, add_title = gettext_lazy("Sales channels"), gettext_lazy("Add a sales channel")


class ChannelNew(ChannelView):
    form_class = NewChannelForm

    def written(self, form: NewChannelForm) -> SalesChannel:
        return add_channel(form.instance, form.terms, submission=submission_from(self.request))


class ChannelEdit(ChannelView):
    form_class = ChannelForm
    template_name, context_object_name = "channels/edit.html", "channel"

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        terms = reversed(self.object.terms.all())
        return {**super().get_context_data(**kwargs), "table": TermsTable(list(terms), self.request)}


class TermsView(RowView):
    """Terms are changed from their channel's page."""

    model = ChannelTerms
    queryset = ChannelTerms.objects.select_related("channel")
    edit_name, page_name, list_name = "costing:terms", "costing:channel-edit", "costing:channels"
    section = SECTION

    def page_row(self, row: ChannelTerms | None) -> SalesChannel | None:
        return row.channel if row else self.chosen_channel

    @cached_property
    def chosen_channel(self) -> SalesChannel | None:
        """The channel that the address of new terms may name."""
        number = read_small_whole(self.request.GET.get("channel", ""))
        return SalesChannel.objects.filter(pk=number).first() if number else None


class TermsEdit(TermsView, EditView):
    form_class, template_name = TermsForm, "channels/terms.html"
    list_label, add_title = gettext_lazy("Sales channels"), gettext_lazy("Add new terms")

    def get_initial(self) -> dict[str, Any]:
        first = {"holds_from": timezone.localdate(), "channel": self.chosen_channel}
        return super().get_initial() | ({} if self.object else first)


class TermsDelete(TermsView, DeleteView):
    note = gettext_lazy(
        "What held before then holds again from that day. Sales keep the fees that were taken."
    )


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
