"""Addresses of the room's pages."""

from django.urls import URLPattern, path

from studio.setup import views

urlpatterns: list[URLPattern] = [
    path("settings/", views.settings, name="settings"),
    path("settings/studio/", views.StudioSettings.as_view(), name="studio-settings"),
    path("settings/logo/", views.logo, name="logo"),
    path("settings/logo/picture/", views.logo_picture, name="logo-picture"),
    path("settings/rates/", views.rates, name="rates"),
    path("settings/rates/new/", views.RatesEdit.as_view(), name="rates-new"),
    path("settings/rates/<int:pk>/", views.RatesEdit.as_view(), name="rates-edit"),
    path("settings/rates/<int:pk>/delete/", views.RatesDelete.as_view(), name="rates-delete"),
]
