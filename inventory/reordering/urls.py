"""Addresses of the room's pages."""

from django.urls import URLPattern, path

from inventory.reordering import views

urlpatterns: list[URLPattern] = [
    path("alerts/", views.alerts, name="alerts"),
    path("alerts/refresh/", views.alerts_refresh, name="alerts-refresh"),
]
