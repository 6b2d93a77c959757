"""Addresses of the room's pages."""

from django.urls import URLPattern, path

from costing.markets.views import cash, days, packing, report, stall

urlpatterns: list[URLPattern] = [
    path("markets/", days.markets, name="markets"),
    path("markets/new/", days.MarketDayView.as_view(), name="market-new"),
    path("markets/<int:pk>/", days.market, name="market"),
    path("markets/<int:pk>/edit/", days.MarketDayView.as_view(), name="market-edit"),
    path("markets/<int:pk>/delete/", days.MarketDayDelete.as_view(), name="market-delete"),
    path("markets/<int:pk>/packing/", packing.packing, name="market-packing"),
    path("markets/<int:pk>/packing/paper/", packing.paper, name="market-packing-paper"),
    path("markets/<int:pk>/home/", packing.home, name="market-home"),
    path("markets/packed/<int:pk>/unpack/", packing.unpack_one, name="packed-unpack"),
    path("markets/packed/<int:pk>/missing/", packing.missing, name="packed-missing"),
    path("markets/<int:pk>/cash/", cash.cash, name="market-cash"),
    path("markets/<int:pk>/report/", report.report, name="market-report"),
    path("stall/", stall.stall, name="stall"),
    path("stall/manifest.webmanifest", stall.manifest, name="stall-manifest"),
]
