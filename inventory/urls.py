"""Addresses of the shelf's pages, room by room."""

from django.urls import include, path

app_name = "inventory"
urlpatterns = [
    path("", include("inventory.materials.urls")),
    path("", include("inventory.ledger.urls")),
    path("", include("inventory.purchasing.urls")),
    path("", include("inventory.stock.urls")),
    path("", include("inventory.recipes.urls")),
    path("", include("inventory.sessions.urls")),
    path("", include("inventory.plans.urls")),
    path("", include("inventory.bench.urls")),
    path("", include("inventory.comparisons.urls")),
    path("", include("inventory.shopping.urls")),
    path("", include("inventory.alerts.urls")),
    path("", include("inventory.webhooks.urls")),
]
