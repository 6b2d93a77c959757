"""Addresses of the room's pages."""

from django.urls import URLPattern, path

from costing.selling.views import disposals, sale_list, sales

urlpatterns: list[URLPattern] = [
    path("pieces/<int:pk>/give/", disposals.give, name="piece-give"),
    path("pieces/<int:pk>/write-off/", disposals.write_off, name="piece-write-off"),
    path("pieces/<int:pk>/bring-back/", disposals.back, name="piece-bring-back"),
    path("sales/", sale_list.sales, name="sales"),
    path("pieces/<int:pk>/sell/", sales.sell_piece, name="sell"),
    path("sales/<int:pk>/return/", sales.sale_return, name="sale-return"),
    path("sales/<int:pk>/undo/", sales.sale_undo, name="sale-undo"),
]
