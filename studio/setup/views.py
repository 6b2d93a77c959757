"""The page "Settings", which links to everything that is set up once, and the studio's own settings."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_safe

from studio.accounts.roles import owner_required
from studio.auditing.queries import last_change_number
from studio.pages.saving import form_page, saved
from studio.pages.submissions import submission_from
from studio.preferences.models import Studio
from studio.setup import menu
from studio.setup.actions import change_settings
from studio.setup.forms import SettingsForm
from studio.translation import _


@require_safe
@owner_required
def settings(request: HttpRequest) -> HttpResponse:
    return render(request, "setup/settings.html", {"pages": menu.pages()})


@require_http_methods(["GET", "HEAD", "POST"])
@owner_required
def studio_settings(request: HttpRequest) -> HttpResponse:
    seen = last_change_number(Studio, 1)
    studio = Studio.current()  # nothing older than what was seen
    form = SettingsForm(request.POST or None, studio=studio, seen=seen)
    changed = saved(
        form,
        lambda: change_settings(
            facts=form.facts(), submission=submission_from(request), seen=form.cleaned_data["seen"]
        ),
    )
    if changed is not None:
        messages.success(request, _("The settings have been saved."))
        return redirect("settings")
    return form_page(
        request,
        form,
        "setup/studio.html",
        title=_("Studio settings"),
        back_url=reverse("settings"),
        back_label=_("Settings"),
        section="settings",
    )
