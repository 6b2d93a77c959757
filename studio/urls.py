"""Every address, room by room (the rooms are named, not imported)."""

from django.contrib import admin
from django.contrib.auth import views as auth_views
from django.urls import include, path
from drf_spectacular.views import SpectacularAPIView

urlpatterns = [
    path("login/", auth_views.LoginView.as_view(redirect_authenticated_user=True), name="login"),
    path("logout/", auth_views.LogoutView.as_view(), name="logout"),
    path("password/", auth_views.PasswordChangeView.as_view(), name="password_change"),
    path("password/done/", auth_views.PasswordChangeDoneView.as_view(), name="password_change_done"),
    path("settings/", admin.site.urls),
    path("health/", include("studio.health")),
    path("", include("studio.views")),
    path("api/schema/", SpectacularAPIView.as_view(), name="schema"),
    path("api/", include("inventory.api_urls")),
    path("api/", include("costing.api_urls")),
    path("", include("costing.home_urls")),
    path("", include("inventory.urls")),
    path("", include("costing.urls")),
]
