"""Addresses of the room's pages."""

from django.urls import URLPattern, path

from costing.pricing import views

urlpatterns: list[URLPattern] = [
    path("settings/channels/", views.channels, name="channels"),
    path("settings/channels/new/", views.ChannelNew.as_view(), name="channel-new"),
    path("settings/channels/<int:pk>/", views.ChannelEdit.as_view(), name="channel-edit"),
    path("settings/channels/<int:pk>/activity/", views.channel_activity, name="channel-activity"),
    path("settings/channels/<int:pk>/delete/", views.ChannelDelete.as_view(), name="channel-delete"),
    path("settings/channels/terms/new/", views.TermsEdit.as_view(), name="terms-new"),
    path("settings/channels/terms/<int:pk>/", views.TermsEdit.as_view(), name="terms-edit"),
    path("settings/channels/terms/<int:pk>/delete/", views.TermsDelete.as_view(), name="terms-delete"),
]
