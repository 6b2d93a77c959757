"""The settings pages: reference data for the owner alone, on Django's own administration."""

from typing import Any

from django.contrib.admin import AdminSite
from django.contrib.auth.decorators import login_not_required
from django.contrib.auth.views import redirect_to_login
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import resolve_url
from django.utils.decorators import method_decorator
from django.views.decorators.cache import never_cache

from studio.models import User


class SettingsSite(AdminSite):
    """Open to owners (and to a superuser made on the studio's own machine); everybody else is refused."""

    site_title = "Meniscus settings"
    site_header = "Meniscus settings"
    index_title = "What the studio works with"

    def has_permission(self, request: HttpRequest) -> bool:
        user = request.user
        return (
            isinstance(user, User)
            and user.is_active
            and user.is_staff
            and (user.is_owner or user.is_superuser)
        )

    @method_decorator(never_cache)
    @login_not_required
    def login(self, request: HttpRequest, extra_context: dict[str, Any] | None = None) -> HttpResponse:
        """There is one door, the studio's own; who came through it and is no owner is told so."""
        if request.user.is_authenticated and not self.has_permission(request):
            raise PermissionDenied("The settings are the owner's.")
        return redirect_to_login(request.GET.get("next") or resolve_url("admin:index"))
