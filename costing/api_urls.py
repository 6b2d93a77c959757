"""Addresses of the price tag's part of the API."""

from django.urls import URLPattern, path

from costing.pieces.api import pieces
from costing.selling import api as selling

urlpatterns: list[URLPattern] = [
    path("pieces/", pieces.PieceList.as_view(), name="api-pieces"),
    path("pieces/<int:pk>/", pieces.PieceDetail.as_view(), name="api-piece"),
    path("pieces/<int:pk>/move-on/", pieces.PieceMoveOn.as_view(), name="api-piece-move-on"),
    path("pieces/<int:pk>/price/", pieces.PiecePrice.as_view(), name="api-piece-price"),
    path("sales/", selling.SaleList.as_view(), name="api-sales"),
    path("sales/<int:pk>/", selling.SaleDetail.as_view(), name="api-sale"),
    path("selling-channels/", selling.ChannelList.as_view(), name="api-selling-channels"),
    path("price-list/", selling.PriceList.as_view(), name="api-price-list"),
]
