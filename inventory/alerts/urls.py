"""Addresses of the room's pages."""

from django.urls import URLPattern, path

from inventory.alerts.views import alerts, calendar, email

urlpatterns: list[URLPattern] = [
    path("alerts/", alerts.alerts, name="alerts"),
    path("alerts/refresh/", alerts.alerts_refresh, name="alerts-refresh"),
    path("alerts/email/", email.alert_email, name="alert-email"),
    path("alerts/<int:pk>/", alerts.alert, name="alert"),
    path("alerts/<int:pk>/acknowledge/", alerts.alert_acknowledge, name="alert-acknowledge"),
    path("alerts/<int:pk>/snooze/", alerts.alert_snooze, name="alert-snooze"),
    path("alerts/<int:pk>/show-again/", alerts.alert_show_again, name="alert-show-again"),
    path("calendar/", calendar.calendar_page, name="calendar"),
    path("calendar/renew/", calendar.calendar_renew, name="calendar-renew"),
    path("calendar/off/", calendar.calendar_off, name="calendar-off"),
    path("calendar/<slug:name>/<slug:secret>.ics", calendar.calendar_feed, name="calendar-feed"),
]
