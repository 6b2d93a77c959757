"""Addresses of the room's pages."""

from django.urls import URLPattern, path

from costing.papers import views

urlpatterns: list[URLPattern] = [
    path("price-list/", views.price_list_page, name="price-list"),
    path("price-list/paper/", views.paper, name="price-list-paper"),
    path("price-list/keep/", views.keep, name="price-list-keep"),
    path("price-list/labels/", views.labels, name="price-labels"),
    path("pieces/<int:pk>/cost-sheet/", views.piece_cost_sheet, name="piece-cost-sheet"),
    path("pieces/<int:pk>/certificate/", views.certificate, name="piece-certificate"),
]
