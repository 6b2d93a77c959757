"""Addresses of the price tag's pages; each module of views lists its own."""

from costing.papers import views as price_list
from costing.pieces.views import piece_list as pieces
from costing.selling.views import sale_list as sales

app_name = "costing"
urlpatterns = [*pieces.urlpatterns, *sales.urlpatterns, *price_list.urlpatterns]
