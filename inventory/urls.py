"""Addresses of the shelf's pages; each module of views lists its own."""

from inventory.ledger.views import postings as ledger_pages
from inventory.purchasing.views import deliveries, orders
from inventory.recipes.views import recipes
from inventory.reordering import views as alerts
from inventory.sessions.views import plan as enough
from inventory.sessions.views import sessions
from inventory.stock.views import lots, stocktakes
from inventory.stock.views import materials as stock

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
