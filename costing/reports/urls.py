"""Addresses of the room's pages."""

from django.urls import URLPattern, path

from costing.reports import views

urlpatterns: list[URLPattern] = [
    path("year-end/", views.page, name="year-end"),
    path("year-end/paper/", views.paper, name="year-end-paper"),
    path("year-end/owned/", views.owned, name="year-end-owned"),
    path("year-end/write-downs/", views.write_downs, name="write-downs"),
]
