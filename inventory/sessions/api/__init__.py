"""Sessions, pours, techniques and the stock check for programs."""

from inventory.sessions.api.corrections import CorrectableSessionViewSet
from inventory.sessions.api.run_off import RunOffViewSet
from inventory.sessions.api.sessions import PourViewSet, TechniqueViewSet
from inventory.sessions.api.stock_check import StockCheckViewSet

VIEWSETS = {
    "sessions": CorrectableSessionViewSet,
    "pours": PourViewSet,
    "techniques": TechniqueViewSet,
    "run-off": RunOffViewSet,
    "stock-check": StockCheckViewSet,
}
