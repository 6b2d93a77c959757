"""The page "Settings", which links to everything that is set up once, and the studio's own settings."""

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.http import FileResponse, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_http_methods, require_safe

from studio.accounts.roles import EVERYONE, owner_required, role_required
from studio.auditing.queries import last_change_number
from studio.pages.photo_form import PhotoForm
from studio.pages.reference import DeleteView, EditView
from studio.pages.saving import form_page, saved, submission_from
from studio.pages.tables import list_page
from studio.photos import served
from studio.preferences.context import current_studio
from studio.preferences.dated import since_in_words
from studio.preferences.formatting import Formatter
from studio.preferences.models import Rates, Studio
from studio.preferences.rates import DatedRates
from studio.setup import menu
from studio.setup.actions import change_settings, store_logo
from studio.setup.forms import RatesForm, SettingsForm
from studio.setup.tables import RatesTable
from studio.translation import _
from studio.values.dated import Held


@require_safe
@owner_required
def settings(request: HttpRequest) -> HttpResponse:
    lead = _("Set up your studio once, and change things here whenever you need to.")
    context = {"title": _("Settings"), "lead": lead, "pages": menu.pages()}
    return render(request, "setup/settings.html", context)


@require_safe
@owner_required
def rates(request: HttpRequest) -> HttpResponse:
    dated, formatter = DatedRates.read(), Formatter.of(current_studio(request))
    today = dated.on(timezone.localdate())
    tiles = [
        _tile(_("Hourly rate today"), today.wage, formatter.money, formatter),
        _tile(_("Overhead per hour today"), today.overhead, formatter.money, formatter),
        _tile(_("Tax in prices today"), today.tax, formatter.percent, formatter),
    ]
    table = RatesTable(list(reversed(dated.entries)), request)
    return list_page(
        request,
        "setup/rates.html",
        table,
        menu.way_back() | {"title": _("Hourly rates and tax"), "tiles": tiles},
    )


def _tile(label: str, held: Held | None, write: Callable[[int], str], formatter: Formatter) -> dict[str, str]:
    if held is None:
        return {"label": label, "number": "–", "note": _("not entered")}
    return {"label": label, "number": write(held.value), "note": since_in_words(held.since, formatter.day)}


class RatesEdit(EditView):
    model, form_class, template_name = Rates, RatesForm, "setup/rates_form.html"
    edit_name, list_name, section = "rates", "rates", "settings"
    list_label, add_title = gettext_lazy("Hourly rates and tax"), gettext_lazy("Add rates")

    def get_initial(self) -> dict[str, Any]:
        first = {} if self.object else {"holds_from": timezone.localdate()}
        return super().get_initial() | first

    def message(self, row: Any) -> str:
        return _("Saved. Cost sheets of pieces you still have are calculated with these rates.")


class RatesDelete(DeleteView):
    model = Rates
    edit_name, list_name, section = "rates", "rates", "settings"
    note = gettext_lazy(
        "What held before then holds again from that day. Pieces that have left and sales keep their figures."
    )


class StudioSettings(EditView):
    model, form_class = Studio, SettingsForm
    list_name, list_label = "settings", gettext_lazy("Settings")
    can_delete = False
    action = staticmethod(change_settings)

    def get_object(self, queryset: Any = None) -> Studio:
        self.seen = last_change_number(Studio, 1)
        return Studio.current()  # nothing older than what was seen

    def title_of(self, row: Any) -> str:
        return _("Studio settings")

    def message(self, row: Any) -> str:
        return _("The settings have been saved.")


@require_http_methods(["GET", "HEAD", "POST"])
@owner_required
def logo(request: HttpRequest) -> HttpResponse:
    """The logo on every paper: put up, replaced, taken away."""
    seen = last_change_number(Studio, 1)
    studio = Studio.current()  # nothing older than what was seen
    form = PhotoForm(
        request.POST or None, request.FILES or None, studio=current_studio(request), initial={"seen": seen}
    )
    is_removal = request.POST.get("do") == "remove"
    form.fields["photo"].required = not is_removal
    form.fields["photo"].label = _("Logo")

    def store() -> Studio:
        upload = None if is_removal else form.cleaned_data["photo"]
        return store_logo(upload=upload, seen=form.cleaned_data["seen"], submission=submission_from(request))

    if saved(form, store):
        done = _("The logo is off the documents.") if is_removal else _("The logo is on every document now.")
        messages.success(request, done)
        return redirect("logo")
    context = {
        "title": _("Logo"),
        "lead": _("Printed small at the top of every document. Dark on white prints best."),
        "logo": studio.logo,
    }
    return form_page(request, form, "setup/logo.html", **context, **menu.way_back())


@require_safe
@role_required(*EVERYONE)
def logo_picture(request: HttpRequest) -> FileResponse:
    return served(Studio.current().logo, filename="logo.jpg")
