"""Addresses of the room's pages."""

from django.urls import URLPattern, path

from costing.first_run import views

urlpatterns: list[URLPattern] = [
    path("begin/", views.begin, name="begin"),
    path("begin/materials/", views.begin_materials, name="begin-materials"),
    path("begin/stock/", views.begin_stock, name="begin-stock"),
]
