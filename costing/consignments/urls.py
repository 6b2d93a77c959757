"""Addresses of the room's pages."""

from django.urls import URLPattern, path

from costing.consignments import views

urlpatterns: list[URLPattern] = [
    path("consignments/", views.consignments, name="consignments"),
    path("consignments/new/", views.new, name="consignment-new"),
    path("consignments/<int:pk>/", views.consignment, name="consignment"),
    path("consignments/<int:pk>/sold/", views.sold, name="consignment-sold"),
    path("consignments/<int:pk>/returned/", views.returned, name="consignment-returned"),
    path("consignments/<int:pk>/paper/", views.paper, name="consignment-paper"),
]
