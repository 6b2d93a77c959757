"""Addresses of the room's pages."""

from django.urls import URLPattern, path

from costing.commissions import views

urlpatterns: list[URLPattern] = [
    path("commissions/", views.commission_list, name="commissions"),
    path("commissions/new/", views.CommissionEdit.as_view(), name="commission-new"),
    path("commissions/<int:pk>/", views.commission, name="commission"),
    path("commissions/<int:pk>/paper/", views.paper, name="commission-paper"),
    path("commissions/<int:pk>/edit/", views.CommissionEdit.as_view(), name="commission-edit"),
    path("commissions/<int:pk>/pay/", views.pay, name="commission-pay"),
    path("commissions/<int:pk>/cancel/", views.cancel, name="commission-cancel"),
    path("commissions/<int:pk>/reopen/", views.reopen, name="commission-reopen"),
    path("commission-payments/<int:pk>/reverse/", views.reverse_one, name="commission-payment-reverse"),
]
