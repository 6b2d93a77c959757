"""The shelf's tables, one module a noun."""

from inventory.models import names
from inventory.models.alerts import Alert, AlertMail, Stocktake, StocktakeLine
from inventory.models.books import Books, CostFlow, Entry, EntryRole, LotBalance, Place, Posting, PostingKind
from inventory.models.materials import Cause, Kind, Material, MeasureChoice, Technique
from inventory.models.recipes import Basis, Recipe, RecipePart, RecipeVersion
from inventory.models.sessions import Mix, Pour, Session, SessionPhoto
from inventory.models.shelf import Lot, MonthEnd
from inventory.models.supply import Delivery, DeliveryLine, Order, OrderLine, Supplier, Supply

__all__ = [
    "Alert",
    "AlertMail",
    "Basis",
    "Books",
    "Cause",
    "CostFlow",
    "Delivery",
    "DeliveryLine",
    "Entry",
    "EntryRole",
    "Kind",
    "Lot",
    "LotBalance",
    "Material",
    "MeasureChoice",
    "Mix",
    "MonthEnd",
    "Order",
    "OrderLine",
    "Place",
    "Posting",
    "PostingKind",
    "Pour",
    "Recipe",
    "RecipePart",
    "RecipeVersion",
    "Session",
    "SessionPhoto",
    "Stocktake",
    "StocktakeLine",
    "Supplier",
    "Supply",
    "Technique",
]

names.name(thing for thing in list(globals().values()) if hasattr(thing, "_meta"))
