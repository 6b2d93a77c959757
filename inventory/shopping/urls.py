"""Addresses of the room's pages."""

from django.urls import URLPattern, path

from inventory.shopping.views import choosing, listing, papers

urlpatterns: list[URLPattern] = [
    path("shopping/", listing.shopping, name="shopping-list"),
    path("shopping/in-the-shop/", listing.in_the_shop, name="shopping-shop"),
    path("shopping/add/", listing.add, name="shopping-add"),
    path("shopping/tick/", listing.tick_one, name="shopping-tick"),
    path("shopping/clear/", listing.clear, name="shopping-clear"),
    path("shopping/<int:pk>/remove/", listing.remove_one, name="shopping-remove"),
    path("shopping/order/", choosing.order, name="shopping-order"),
    path("shopping/material/<int:pk>/", choosing.choose_pack, name="shopping-choose"),
    path("shopping/material/<int:pk>/cheapest/", choosing.cheapest_again, name="shopping-cheapest"),
    path("shopping/paper/", papers.paper, name="shopping-paper"),
    path("shopping/email/", papers.email, name="shopping-email"),
]
