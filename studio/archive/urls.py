"""Addresses of the room."""

from django.urls import path

from studio.archive import views

urlpatterns = [path("archive/", views.archive_download, name="archive-download")]
