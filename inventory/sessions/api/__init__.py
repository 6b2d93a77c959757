"""Sessions, pours, techniques and the stock check for programs."""

from inventory.sessions.api.corrections import CorrectableSessionViewSet
from inventory.sessions.api.pours import FlawViewSet, PourViewSet, TechniqueViewSet
from inventory.sessions.api.run_off import RunOffViewSet
from inventory.sessions.api.stock_check import StockCheckViewSet

VIEWSETS = {
    "sessions": CorrectableSessionViewSet,
    "pours": PourViewSet,
    "flaws": FlawViewSet,
    "techniques": TechniqueViewSet,
    "run-off": RunOffViewSet,
    "stock-check": StockCheckViewSet,
}
