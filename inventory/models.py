"""The shelf's tables, gathered from its rooms for Django."""

from inventory import model_names
from inventory.ledger.models import (
    Books,
    CostingMethod,
    Entry,
    EntryQuerySet,
    EntryRole,
    Lot,
    LotBalance,
    LotOrigin,
    LotQuerySet,
    MonthEnd,
    Place,
    Posting,
    PostingKind,
    Reason,
    ReasonKind,
)
from inventory.materials.models import Kind, Material, MeasureChoice, Supplier, Supply
from inventory.purchasing.models import Delivery, DeliveryLine, Order, OrderLine
from inventory.recipes.models import (
    Basis,
    Mix,
    MixLeftover,
    Recipe,
    RecipePart,
    RecipeVersion,
    StandingQuerySet,
)
from inventory.reordering.models import Alert, AlertMail
from inventory.sessions.models import Pour, PourOutcome, PourQuerySet, Session, SessionPhoto, Technique
from inventory.stock.models import Stocktake, StocktakeLine

__all__ = [
    "Alert",
    "AlertMail",
    "Basis",
    "Books",
    "CostingMethod",
    "Delivery",
    "DeliveryLine",
    "Entry",
    "EntryQuerySet",
    "EntryRole",
    "Kind",
    "Lot",
    "LotBalance",
    "LotOrigin",
    "LotQuerySet",
    "Material",
    "MeasureChoice",
    "Mix",
    "MixLeftover",
    "MonthEnd",
    "Order",
    "OrderLine",
    "Place",
    "Posting",
    "PostingKind",
    "Pour",
    "PourOutcome",
    "PourQuerySet",
    "Reason",
    "ReasonKind",
    "Recipe",
    "RecipePart",
    "RecipeVersion",
    "Session",
    "SessionPhoto",
    "StandingQuerySet",
    "Stocktake",
    "StocktakeLine",
    "Supplier",
    "Supply",
    "Technique",
]

model_names.name(thing for thing in list(globals().values()) if hasattr(thing, "_meta"))
