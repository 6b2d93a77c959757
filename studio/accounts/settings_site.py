"""The settings pages: reference data for the owner alone, on Django's own administration."""

from typing import Any

from django.contrib.admin import AdminSite
from django.contrib.auth.decorators import login_not_required
from django.contrib.auth.views import redirect_to_login
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, resolve_url
from django.utils.decorators import method_decorator
from django.utils.translation import gettext_lazy
from django.views.decorators.cache import never_cache

from studio.accounts.models import User
from studio.translation import _

# Apps whose pages would show the secrets behind sign-in codes: who sees those can sign in as somebody else.
SECRET = {"otp_totp", "otp_static"}


class SettingsSite(AdminSite):
    """Open to owners (and to a superuser made on the studio's own machine); everybody else is refused."""

    site_title = gettext_lazy("Meniscus settings")
    site_header = gettext_lazy("Meniscus settings")
    index_title = gettext_lazy("Settings")

    def register(self, model_or_iterable: Any, admin_class: Any = None, **options: Any) -> None:
        models: Any = [model_or_iterable] if isinstance(model_or_iterable, type) else model_or_iterable
        shown = [model for model in models if model._meta.app_label not in SECRET]
        super().register(shown, admin_class, **options)

    def has_permission(self, request: HttpRequest) -> bool:
        user = request.user
        return (
            isinstance(user, User)
            and user.is_active
            and user.is_staff
            and (user.is_owner or user.is_superuser)
        )

    def password_change(  # type: ignore[override]
        self, request: HttpRequest, extra_context: dict[str, Any] | None = None
    ) -> HttpResponse:
        """There is one page for one's own password, too."""
        return redirect("password_change")

    @method_decorator(never_cache)
    @login_not_required
    def login(self, request: HttpRequest, extra_context: dict[str, Any] | None = None) -> HttpResponse:
        """There is one door, the studio's own; who came through it and is no owner is told so."""
        if request.user.is_authenticated and not self.has_permission(request):
            raise PermissionDenied(_("Only the owner can change settings."))
        return redirect_to_login(request.GET.get("next") or resolve_url("admin:index"))
