"""Addresses of the room's pages."""

from django.urls import URLPattern, path

from costing.selling import views

urlpatterns: list[URLPattern] = [
    path("pieces/<int:pk>/give/", views.give, name="piece-give"),
    path("pieces/<int:pk>/write-off/", views.write_off, name="piece-write-off"),
    path("pieces/<int:pk>/scrape/", views.scrape, name="piece-scrape"),
    path("pieces/<int:pk>/bring-back/", views.bring_back, name="piece-bring-back"),
    path("sales/", views.sales, name="sales"),
    path("pieces/<int:pk>/sell/", views.sell_piece, name="sell"),
    path("sales/<int:pk>/return/", views.sale_return, name="sale-return"),
    path("sales/<int:pk>/undo/", views.sale_undo, name="sale-undo"),
]
