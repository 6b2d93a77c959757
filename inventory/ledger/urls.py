"""Addresses of the room's pages."""

from django.urls import URLPattern, path

from inventory.ledger.views import closing, postings, reasons, undo

urlpatterns: list[URLPattern] = [
    path("ledger/", postings.postings, name="postings"),
    path("ledger/value/", postings.worth, name="ledger-value"),
    path("ledger/<int:number>/", postings.posting, name="posting"),
    path("ledger/<int:number>/reverse/", postings.posting_reverse, name="posting-reverse"),
    path("ledger/<int:number>/undo/", undo.undo, name="posting-undo"),
    path("reasons/", reasons.reasons, name="reasons"),
    path("reasons/new/", reasons.ReasonEdit.as_view(), name="reason-new"),
    path("reasons/<int:pk>/edit/", reasons.ReasonEdit.as_view(), name="reason-edit"),
    path("settings/costing-method/", closing.costing_method, name="costing-method"),
    path("settings/closing/", closing.closing, name="closing"),
]
