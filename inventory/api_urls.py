"""Addresses of the shelf's part of the API."""

from inventory.alerts import api as alerts
from inventory.bench import api as bench
from inventory.comparisons import api as comparisons
from inventory.ledger import api as ledger
from inventory.materials import api as materials
from inventory.plans import api as plans
from inventory.printables import register_papers
from inventory.purchasing import api as purchasing
from inventory.recipes import api as recipes
from inventory.reordering import api as reordering
from inventory.sessions import api as sessions
from inventory.shopping import api as shopping
from inventory.stock import api as stock
from inventory.webhooks import api as webhooks
from studio.api.viewsets import routes

register_papers()
urlpatterns = routes(
    materials,
    ledger,
    purchasing,
    stock,
    recipes,
    sessions,
    plans,
    bench,
    comparisons,
    reordering,
    shopping,
    alerts,
    webhooks,
)
