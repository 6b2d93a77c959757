"""Addresses of the room's pages."""

from django.urls import path

from studio.auditing import views

urlpatterns = [path("change-log/", views.changes, name="change-log")]
