"""Addresses of the room's pages."""

from django.urls import URLPattern, path

from costing.earnings import views

urlpatterns: list[URLPattern] = [
    path("earnings/", views.earnings, name="earnings"),
    path("earnings/slow-sellers/", views.slow_sellers, name="slow-sellers"),
]
