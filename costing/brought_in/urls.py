"""Addresses of the room's page."""

from django.urls import URLPattern, path

from costing.brought_in import views

urlpatterns: list[URLPattern] = [path("pieces/finished-before/", views.bring_in, name="pieces-bring-in")]
