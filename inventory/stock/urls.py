"""Addresses of the room's pages."""

from django.urls import URLPattern, path

from inventory.stock.views import labels, lots, materials, opening_corrections, stocktakes

urlpatterns: list[URLPattern] = [
    path("lots/<int:pk>/", lots.lot, name="lot"),
    path("lots/<int:pk>/edit/", lots.LotEdit.as_view(), name="lot-edit"),
    path("lots/<int:pk>/write-off/", lots.write_off_page, name="write-off"),
    path("lots/<int:pk>/decant/", lots.decant_page, name="decant"),
    path("stock/", materials.stock_page, name="stock"),
    path("stock/<int:pk>/", materials.material, name="material"),
    path("stock/labels/", labels.jar_labels, name="jar-labels"),
    path("opening-stock/", stocktakes.opening, name="opening-stock"),
    path("opening-stock/<int:number>/correct/", opening_corrections.correct, name="opening-stock-correct"),
    path("stocktakes/", stocktakes.stocktakes, name="stocktakes"),
    path("stocktakes/new/", stocktakes.new, name="stocktake-new"),
    path("stocktakes/sheet/", stocktakes.sheet_paper, name="stocktake-sheet"),
    path("stocktakes/<int:pk>/", stocktakes.stocktake, name="stocktake"),
]
