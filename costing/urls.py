"""Addresses of the price tag's pages, room by room."""

from django.urls import include, path

app_name = "costing"
urlpatterns = [
    path("", include("costing.pieces.urls")),
    path("", include("costing.overhead.urls")),
    path("", include("costing.pricing.urls")),
    path("", include("costing.contacts.urls")),
    path("", include("costing.commissions.urls")),
    path("", include("costing.locations.urls")),
    path("", include("costing.brought_in.urls")),
    path("", include("costing.selling.urls")),
    path("", include("costing.consignments.urls")),
    path("", include("costing.markets.urls")),
    path("", include("costing.earnings.urls")),
    path("", include("costing.reports.urls")),
    path("", include("costing.papers.urls")),
]
