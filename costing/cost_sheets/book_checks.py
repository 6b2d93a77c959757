"""What a check of the books looks at in cost sheets: what each piece's pours cost against what the ledger holds."""

from django.db.models import Sum

from costing.pieces.calculations import RUINED, State
from costing.pieces.models import PiecePour
from inventory.ledger.findings import Tally
from inventory.ledger.models import Entry, Place
from inventory.ledger.movements import incoming
from inventory.sessions.models import Pour
from studio.translation import _

GONE = (State.KEPT, State.GIVEN, State.WRITTEN_OFF)


def check_cost_sheets(using: str, tally: Tally) -> None:
    """What was charged to a piece's pours is in work; in cost of sales once it is sold; and nowhere once it is gone.

    A scraped piece's pours are wherever what lies upon them is: whole in one of the three.
    """
    # Named by their pours: a join lets SQLite read the whole ledger to find the few pours of pieces.
    of_pieces = PiecePour.objects.using(using).values("pour")
    entries = Entry.objects.using(using).filter(pour__in=of_pieces).order_by()
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
        ledger = held.get((pour, Place.WORK), 0), held.get((pour, Place.SOLD), 0)
        if ledger not in _allowed(state, charged):
            problem = _(
                "{charged} millionths were charged, but {work} are in work and {sold} in cost of sales",
                charged=charged,
                work=ledger[0],
                sold=ledger[1],
            )
            tally.tell("cost_sheets", _("pour {pour} of “{title}”", pour=pour, title=title), problem)


def _allowed(state: str, charged: int) -> list[tuple[int, int]]:
    """What may be in work and in cost of sales, for a piece in this state."""
    in_work, sold, gone = (charged, 0), (0, charged), (0, 0)
    if state == State.SCRAPED:
        return [in_work, sold, gone]
    if state == State.SOLD:
        return [sold]
    return [gone] if state in GONE else [in_work]


def check_outcomes(using: str, tally: Tally) -> None:
    """The pours of a ruined piece count as failed, those of every other piece do not."""
    parts = PiecePour.objects.using(using).values_list(
        "pour_id", "pour__outcome", "piece__state", "piece__title"
    )
    for pour, outcome, state, title in parts:
        tally.looked(1, "outcomes")
        if (outcome == Pour.Outcome.FAILED) != (state in RUINED):
            problem = _("it reads “{outcome}” while its piece is “{state}”", outcome=outcome, state=state)
            tally.tell("outcomes", _("pour {pour} of “{title}”", pour=pour, title=title), problem)
