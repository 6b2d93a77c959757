"""The shelf for programs."""

from inventory.stock.api import counting, lots, materials, opening_stock

VIEWSETS = {**materials.VIEWSETS, **lots.VIEWSETS, **counting.VIEWSETS, **opening_stock.VIEWSETS}
