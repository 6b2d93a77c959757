"""Addresses of the room's pages."""

from django.urls import URLPattern, path

from costing.locations import views

urlpatterns: list[URLPattern] = [
    path("locations/", views.locations, name="locations"),
    path("locations/new/", views.LocationNew.as_view(), name="location-new"),
    path("locations/<int:pk>/", views.location, name="location"),
    path("locations/<int:pk>/edit/", views.LocationEdit.as_view(), name="location-edit"),
    path("locations/<int:pk>/activity/", views.location_activity, name="location-activity"),
    path("locations/<int:pk>/delete/", views.LocationDelete.as_view(), name="location-delete"),
    path("pieces/move/", views.move, name="pieces-move"),
    path("pieces/<int:pk>/lend/", views.lend, name="piece-lend"),
    path("pieces/<int:pk>/reserve/", views.reserve, name="piece-reserve"),
]
