"""Addresses of the room's pages."""

from django.urls import path

from studio.pages import views

urlpatterns = [path("favicon.ico", views.favicon, name="favicon")]
