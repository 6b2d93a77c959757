"""Every address, room by room (the rooms are named, not imported)."""

from django.contrib.auth import views as auth_views
from django.urls import include, path
from drf_spectacular.views import SpectacularAPIView

from studio.accounts.login import Door, code
from studio.accounts.password import OwnPassword
from studio.api.docs import ApiDocs
from studio.pages.languages import language

handler500 = "studio.operations.outages.page_for"
urlpatterns = [
    path("login/", Door.as_view(), name="login"),
    path("login/code/", code, name="login-code"),
    path("logout/", auth_views.LogoutView.as_view(), name="logout"),
    path("password/", OwnPassword.as_view(), name="password_change"),
    path("password/done/", auth_views.PasswordChangeDoneView.as_view(), name="password_change_done"),
    path("language/", language, name="language"),
    path("health/", include("studio.operations.health")),
    path("", include("studio.pages.urls")),
    path("", include("studio.backups.urls")),
    path("", include("studio.auditing.urls")),
    path("", include("studio.pages.glossary.urls")),
    path("", include("studio.accounts.urls")),
    path("", include("studio.setup.urls")),
    path("api/schema/", SpectacularAPIView.as_view(), name="schema"),
    path("api/docs/", ApiDocs.as_view(), name="api-docs"),
    path("api/", include("inventory.api_urls")),
    path("api/", include("costing.api_urls")),
    path("", include("costing.home.urls")),
    path("", include("inventory.urls")),
    path("", include("costing.urls")),
]
