"""Addresses of the room's pages."""

from django.urls import URLPattern, path

from inventory.bench.views import bench, papers

urlpatterns: list[URLPattern] = [
    path("plans/<int:pk>/bench/", bench.bench, name="bench"),
    path("plans/<int:pk>/mixing-sheet.pdf", papers.mixing_sheet, name="mixing-sheet"),
]
