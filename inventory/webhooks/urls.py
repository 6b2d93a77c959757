"""Addresses of webhooks."""

from django.urls import path

from inventory.webhooks import views

urlpatterns = [
    path("settings/webhooks/", views.webhooks, name="webhooks"),
    path("settings/webhooks/new/", views.WebhookEdit.as_view(), name="webhook-new"),
    path("settings/webhooks/<int:pk>/edit/", views.WebhookEdit.as_view(), name="webhook-edit"),
    path("settings/webhooks/<int:pk>/", views.webhook, name="webhook"),
    path("settings/webhooks/<int:pk>/secret/", views.webhook_secret, name="webhook-secret"),
    path("settings/webhooks/<int:pk>/switch/", views.webhook_switch, name="webhook-switch"),
    path("settings/webhooks/<int:pk>/delete/", views.WebhookDelete.as_view(), name="webhook-delete"),
    path("settings/webhooks/messages/<int:pk>/retry/", views.webhook_retry, name="webhook-retry"),
]
