"""Sessions, pours, techniques and the stock check for programs."""

from inventory.sessions.api.filling_cups import CupFillingViewSet
from inventory.sessions.api.photos import SessionPhotoViewSet
from inventory.sessions.api.pour_groups import RunOffViewSet
from inventory.sessions.api.pours import FlawViewSet, PourViewSet, TechniqueViewSet
from inventory.sessions.api.stock_check import StockCheckViewSet
from inventory.sessions.api.throwing_away import PourWriteOffViewSet
from inventory.sessions.api.weighing_later import WeighableSessionViewSet

VIEWSETS = {
    "sessions": WeighableSessionViewSet,
    "session-photos": SessionPhotoViewSet,
    "pours": PourViewSet,
    "flaws": FlawViewSet,
    "pour-write-offs": PourWriteOffViewSet,
    "techniques": TechniqueViewSet,
    "run-off": RunOffViewSet,
    "stock-check": StockCheckViewSet,
    "cup-filling": CupFillingViewSet,
}
