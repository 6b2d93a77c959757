"""The shelf for programs."""

from inventory.stock.api import counting, lots, materials

VIEWSETS = {**materials.VIEWSETS, **lots.VIEWSETS, **counting.VIEWSETS}
