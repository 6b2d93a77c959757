"""The shelf for programs."""

from inventory.stock.api.lots import LotViewSet
from inventory.stock.api.materials import MaterialViewSet
from inventory.stock.api.stocktakes import StocktakeViewSet, WriteOffViewSet

VIEWSETS = {
    "materials": MaterialViewSet,
    "lots": LotViewSet,
    "stocktakes": StocktakeViewSet,
    "write-offs": WriteOffViewSet,
}
