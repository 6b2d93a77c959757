"""Addresses of the room's pages."""

from django.urls import URLPattern, path

from inventory.purchasing.views import corrections, deliveries, file_import, order_page, orders, suppliers

urlpatterns: list[URLPattern] = [
    path("deliveries/<int:pk>/correct/", corrections.correct, name="delivery-correct"),
    path("deliveries/<int:pk>/pack-prices/", deliveries.take_prices, name="delivery-pack-prices"),
    path("deliveries/new/", deliveries.new, name="delivery-new"),
    path("deliveries/<int:pk>/", deliveries.delivery, name="delivery"),
    path("deliveries/", deliveries.deliveries, name="deliveries"),
    path("deliveries/file/", file_import.from_file, name="delivery-file"),
    path("deliveries/file/example.csv", file_import.example, name="delivery-file-example"),
    path("suppliers/<int:pk>/", suppliers.supplier, name="supplier"),
    path("orders/", orders.orders, name="orders"),
    path("orders/new/", orders.new, name="order-new"),
    path("orders/<int:pk>/", order_page.order, name="order"),
    path("orders/<int:pk>/edit/", order_page.edit, name="order-edit"),
    path("orders/<int:pk>/chase/", order_page.chase, name="order-chase"),
    path("orders/<int:pk>/sent/", order_page.sent, name="order-sent"),
    path("orders/<int:pk>/close/", order_page.close, name="order-close"),
    path("orders/<int:pk>/reopen/", order_page.reopen, name="order-reopen"),
    path("orders/<int:pk>/paper/", order_page.paper, name="order-paper"),
]
