"""Addresses of the room's pages."""

from django.urls import URLPattern, path

from studio.setup import views

urlpatterns: list[URLPattern] = [
    path("settings/", views.settings, name="settings"),
    path("settings/studio/", views.StudioSettings.as_view(), name="studio-settings"),
]
