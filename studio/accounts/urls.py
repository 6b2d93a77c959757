"""Addresses of the room's pages."""

from django.urls import URLPattern, path

from studio.accounts import views

urlpatterns: list[URLPattern] = [
    path("two-factor/", views.own_codes, name="two-factor"),
    path("two-factor/begin/", views.begin, name="two-factor-begin"),
    path("two-factor/confirm/", views.confirm, name="two-factor-confirm"),
    path("two-factor/recovery/", views.renew, name="two-factor-recovery"),
    path("two-factor/off/", views.switch_off, name="two-factor-off"),
]
