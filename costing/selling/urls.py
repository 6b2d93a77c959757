"""Addresses of the room's pages."""

from django.urls import URLPattern, path

from costing.selling.views import corrections, disposals, papers, sales, selling

urlpatterns: list[URLPattern] = [
    path("pieces/<int:pk>/give/", disposals.give, name="piece-give"),
    path("pieces/<int:pk>/write-off/", disposals.write_off, name="piece-write-off"),
    path("pieces/<int:pk>/scrape/", disposals.scrape, name="piece-scrape"),
    path("pieces/<int:pk>/bring-back/", disposals.bring_back, name="piece-bring-back"),
    path("sales/", sales.sales, name="sales"),
    path("pieces/<int:pk>/sell/", selling.sell_piece, name="sell"),
    path("sales/new/", selling.sell_pieces, name="sale-new"),
    path("sales/<int:pk>/", sales.sale, name="sale"),
    path("sales/<int:pk>/receipt/", papers.receipt, name="sale-receipt"),
    path("refunds/<int:pk>/credit-note/", papers.credit_note, name="refund-credit-note"),
    path("sales/<int:pk>/correct/", corrections.correct, name="sale-correct"),
    path("sales/<int:pk>/undo/", sales.sale_undo, name="sale-undo"),
    path("sold-pieces/<int:pk>/return/", selling.sale_return, name="sale-return"),
    path("sold-pieces/<int:pk>/return/undo/", selling.sale_return_undo, name="sale-return-undo"),
    path("sold-pieces/<int:pk>/refund/", selling.sale_refund, name="sale-refund"),
]
