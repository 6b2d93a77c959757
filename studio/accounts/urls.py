"""Addresses of the room's pages."""

from django.urls import URLPattern, path

from studio.accounts import views

urlpatterns: list[URLPattern] = [
    path("codes/", views.own_codes, name="codes"),
    path("codes/begin/", views.begin, name="codes-begin"),
    path("codes/confirm/", views.confirm, name="codes-confirm"),
    path("codes/recovery/", views.renew, name="codes-recovery"),
    path("codes/off/", views.switch_off, name="codes-off"),
]
