"""Addresses of the room's pages."""

from django.urls import URLPattern, path

from studio.pages.glossary import views

urlpatterns: list[URLPattern] = [path("glossary/", views.glossary, name="glossary")]
