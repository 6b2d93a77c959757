"""Addresses of the room's pages."""

from django.urls import URLPattern, path

from costing.home import views

urlpatterns: list[URLPattern] = [
    path("", views.home, name="home"),
    path("api/start/", views.first_program, name="api-start"),
]
