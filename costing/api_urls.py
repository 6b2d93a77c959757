"""Addresses of the price tag's part of the API."""

from costing.cost_sheets import api as cost_sheets
from costing.papers import api as papers
from costing.pieces import api as pieces
from costing.pricing import api as pricing
from costing.selling import api as selling
from studio.api.viewsets import routes

urlpatterns = routes(pieces, cost_sheets, pricing, selling, papers)
