"""Addresses of the price tag's part of the API."""

from costing.commissions import api as commissions
from costing.consignments import api as consignments
from costing.contacts import api as contacts
from costing.cost_sheets import api as cost_sheets
from costing.earnings import api as earnings
from costing.locations import api as locations
from costing.markets import api as markets
from costing.overhead import api as overhead
from costing.papers import api as papers
from costing.pieces import api as pieces
from costing.pricing import api as pricing
from costing.printables import register_papers
from costing.reports import api as reports
from costing.selling import api as selling
from studio.api.viewsets import routes

register_papers()
urlpatterns = routes(
    pieces,
    cost_sheets,
    overhead,
    pricing,
    contacts,
    commissions,
    locations,
    selling,
    consignments,
    markets,
    earnings,
    reports,
    papers,
)
