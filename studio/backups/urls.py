"""Addresses of the room's pages."""

from django.urls import path

from studio.backups import views

urlpatterns = [
    path("backups/", views.backups, name="backups"),
    path("backups/now/", views.backup_now, name="backup-now"),
    path("backups/<int:pk>/", views.backup_download, name="backup-download"),
]
