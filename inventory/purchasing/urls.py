"""Addresses of the room's pages."""

from django.urls import URLPattern, path

from inventory.purchasing.views import corrections, deliveries, file_import, orders

urlpatterns: list[URLPattern] = [
    path("deliveries/<int:pk>/correct/", corrections.correct, name="delivery-correct"),
    path("deliveries/new/", deliveries.new, name="delivery-new"),
    path("deliveries/<int:pk>/", deliveries.delivery, name="delivery"),
    path("deliveries/", deliveries.deliveries, name="deliveries"),
    path("deliveries/file/", file_import.from_file, name="delivery-file"),
    path("deliveries/file/example.csv", file_import.example, name="delivery-file-example"),
    path("orders/", orders.orders, name="orders"),
    path("orders/new/", orders.new, name="order-new"),
    path("orders/<int:pk>/", orders.order, name="order"),
    path("orders/<int:pk>/close/", orders.close, name="order-close"),
]
