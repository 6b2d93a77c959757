"""The page "Settings", which links to everything that is set up once, and the studio's own settings."""

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_safe

from studio.accounts.roles import owner_required
from studio.auditing.queries import last_change_number
from studio.pages.reference import EditView
from studio.preferences.models import Studio
from studio.setup import menu
from studio.setup.actions import change_settings
from studio.setup.forms import SettingsForm
from studio.translation import _


@require_safe
@owner_required
def settings(request: HttpRequest) -> HttpResponse:
    lead = _("Set up your studio once, and change things here whenever you need to.")
    context = {"title": _("Settings"), "lead": lead, "pages": menu.pages()}
    return render(request, "setup/settings.html", context)


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
