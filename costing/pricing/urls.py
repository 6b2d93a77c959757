"""Addresses of the room's pages."""

from django.urls import URLPattern, path

from costing.pricing.views import channels, prices

urlpatterns: list[URLPattern] = [
    path("prices/", prices.prices, name="prices"),
    path("settings/prices/", prices.PriceRulesEdit.as_view(), name="price-rules"),
    path("settings/channels/", channels.channels, name="channels"),
    path("settings/channels/new/", channels.ChannelNew.as_view(), name="channel-new"),
    path("settings/channels/<int:pk>/", channels.ChannelEdit.as_view(), name="channel-edit"),
    path("settings/channels/<int:pk>/activity/", channels.channel_activity, name="channel-activity"),
    path("settings/channels/<int:pk>/delete/", channels.ChannelDelete.as_view(), name="channel-delete"),
    path("settings/channels/terms/new/", channels.TermsEdit.as_view(), name="terms-new"),
    path("settings/channels/terms/<int:pk>/", channels.TermsEdit.as_view(), name="terms-edit"),
    path("settings/channels/terms/<int:pk>/delete/", channels.TermsDelete.as_view(), name="terms-delete"),
]
