"""The shelf's tables, gathered from its rooms for Django."""

from inventory import model_names
from inventory.alerts import models as alerts
from inventory.comparisons import models as comparisons
from inventory.ledger import models as ledger
from inventory.materials import models as materials
from inventory.plans import models as plans
from inventory.purchasing import models as purchasing
from inventory.recipes import models as recipes
from inventory.reordering import models as reordering
from inventory.sessions import models as sessions
from inventory.shopping import models as shopping
from inventory.stock import models as stock
from inventory.webhooks import models as webhooks

for room in (
    alerts,
    comparisons,
    ledger,
    materials,
    plans,
    purchasing,
    recipes,
    reordering,
    sessions,
    shopping,
    stock,
    webhooks,
):
    model_names.name(thing for thing in vars(room).values() if hasattr(thing, "_meta"))
