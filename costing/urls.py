"""Addresses of the price tag's pages; each module of views lists its own."""

from costing.views import pieces, price_list, sales

app_name = "costing"
urlpatterns = [*pieces.urlpatterns, *sales.urlpatterns, *price_list.urlpatterns]
