"""Addresses of the room's pages."""

from django.urls import URLPattern, path

from studio.serving import views

urlpatterns: list[URLPattern] = [path("settings/phone/", views.on_phones, name="on-phones")]
