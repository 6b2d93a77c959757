"""Orders and deliveries for programs."""

from inventory.purchasing.api import deliveries, orders

VIEWSETS = {**orders.VIEWSETS, **deliveries.VIEWSETS}
