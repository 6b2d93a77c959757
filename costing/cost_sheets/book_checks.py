"""What a check of the books looks at in cost sheets: what each piece's pours cost against what the ledger holds."""

from django.db.models import Sum

from costing.pieces.calculations import State
from costing.pieces.models import PiecePour
from inventory.ledger.findings import Tally
from inventory.ledger.models import Entry, Place
from inventory.ledger.movements import incoming
from studio.translation import _

GONE = (State.KEPT, State.GIVEN, State.WRITTEN_OFF)


def check_cost_sheets(using: str, tally: Tally) -> None:
    """What was charged to a piece's pours is in work; in cost of sales once it is sold; and nowhere once it is gone."""
    entries = Entry.objects.using(using).filter(pour__piece_part__isnull=False).order_by()
    charges = dict(
        incoming(entries.filter(place=Place.WORK)).values_list("pour").annotate(money=Sum("money"))
    )
    held = {
        (pour, place): money
        for pour, place, money in entries.values_list("pour", "place").annotate(money=Sum("money"))
    }
    parts = PiecePour.objects.using(using).values_list("pour_id", "piece__state", "piece__title")
    for pour, state, title in parts:
        tally.looked(1, "cost_sheets")
        charged = charges.get(pour, 0)
        in_work = 0 if state in (State.SOLD, *GONE) else charged
        sold = charged if state == State.SOLD else 0
        ledger = held.get((pour, Place.WORK), 0), held.get((pour, Place.SOLD), 0)
        if ledger != (in_work, sold):
            problem = _(
                "{charged} millionths were charged, but {work} are in work and {sold} in cost of sales",
                charged=charged,
                work=ledger[0],
                sold=ledger[1],
            )
            tally.tell("cost_sheets", _("pour {pour} of “{title}”", pour=pour, title=title), problem)
