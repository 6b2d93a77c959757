"""Addresses of the shelf's pages; each module of views lists its own."""

from inventory.views import (
    alerts,
    deliveries,
    enough,
    ledger_pages,
    lots,
    orders,
    recipes,
    sessions,
    stock,
    stocktakes,
)

app_name = "inventory"
urlpatterns = [
    *stock.urlpatterns,
    *lots.urlpatterns,
    *stocktakes.urlpatterns,
    *enough.urlpatterns,
    *sessions.urlpatterns,
    *recipes.urlpatterns,
    *deliveries.urlpatterns,
    *orders.urlpatterns,
    *alerts.urlpatterns,
    *ledger_pages.urlpatterns,
]
