"""What of the shelf an archive leaves out, what every database starts with, and units that no column says itself."""

from inventory.alerts.models import AlertCheck, CalendarFeed, Digest
from inventory.comparisons.models import Criterion, PhotoCount, PhotoMark, Score
from inventory.ledger.models import Books, Entry, LotBalance, MonthEnd, Reason
from inventory.materials.models import PriceBreak
from inventory.plans.models import Plan, PlanColour, PlanLine, PlannedMaterial
from inventory.purchasing.models import Delivery, DeliveryLine, OrderLine
from inventory.recipes.models import RatioPart, RecipePart
from inventory.reordering.models import KeptUse
from inventory.sessions.models import Flaw, Technique, Weighing
from inventory.shopping.models import ShoppingEntry
from inventory.stock.models import StocktakeLine
from inventory.webhooks.models import Webhook, WebhookMessage
from studio.archive.contents import explain, leave_out, measured, starts_with_rows

THE_BOOKS = """## The books

`inventory_entry` holds the lines of the ledger and `inventory_posting` seals them. Two entries that follow each other
are a movement: what one gives, the other takes. Each posting's `hash` is the SHA-256 of the `hash` before it, its own
columns and its entries, as the source text of Meniscus says (`hash_chain.py`), so that no line can be changed without
its being seen.
"""


def describe() -> None:
    explain(THE_BOOKS)
    leave_out("Worked out from the rest when it is needed.", KeptUse, MonthEnd, AlertCheck)
    leave_out("Secrets, by which a calendar is read.", CalendarFeed)
    leave_out("Addresses that are told what happens, whose secrets stay here.", Webhook, WebhookMessage)
    leave_out("Emails that one computer wrote and sent.", Digest, Digest.alerts.through)
    starts_with_rows(Books, Reason, Technique, Flaw)
    for of_money in (Entry, LotBalance):
        measured(of_money, "money", "money")
    for held in (Entry, LotBalance, OrderLine, DeliveryLine, PlannedMaterial, ShoppingEntry):
        measured(held, "quantity", "quantity")
    for priced in (OrderLine, PriceBreak, DeliveryLine):
        measured(priced, "money of currency", "price")
    measured(StocktakeLine, "quantity", "expected", "counted")
    measured(Delivery, "money of currency", "invoiced", "carriage", "duty", "tax")
    measured(Delivery, "money", "paid")
    measured(Delivery, "rate", "rate_digits")
    measured(Delivery, "places", "rate_places")
    measured(DeliveryLine, "money", "landed")
    measured(RecipePart, "parts", "parts")
    measured(PlanColour, "parts", "share")
    measured(RatioPart, "unit of the row", "amount")
    measured(Plan, "volume", "planned_paint")
    measured(Plan, "money", "planned_cost")
    measured(PlanLine, "volume", "poured")
    measured(Criterion, "score", "lowest", "highest", "margin")
    measured(Score, "score", "value")
    measured(PhotoCount, "length", "height", "width", "side")
    measured(PhotoCount, "number", "seed")
    measured(PhotoMark, "length", "x", "y", "x2", "y2")
    measured(
        Weighing, "mass", "scale_step", "cups_before", "cups_after", "tray_before", "tray_after",
        "surfaces_before", "surfaces_after", "drips",
    )  # fmt: skip
