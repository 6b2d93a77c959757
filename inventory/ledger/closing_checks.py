"""How far the books were closed, step by step by the change log, and that nothing came in behind it."""

from datetime import datetime

from auditlog.models import LogEntry

from inventory.ledger.findings import Tally
from inventory.ledger.models import Books, Entry
from studio.auditing.queries import about
from studio.translation import _


def check_closing(using: str, tally: Tally) -> None:
    """The change log's own account of how far the books were closed, step by step, against the books."""
    log = LogEntry.objects.using(using).filter(about(Books), action=LogEntry.Action.UPDATE).order_by("pk")
    closed = None
    tally.checked["closing"] += 1
    for entry in log:
        if "closed_through" not in entry.changes:
            continue
        tally.checked["closing"] += 1
        old, new = (None if day == "None" else day for day in entry.changes["closed_through"])
        if old != closed or new is None or (closed is not None and new < closed):
            problem = _("from {old} to {new}, but it was {closed}", old=old, new=new, closed=closed)
            tally.tell("closing", _("change {number}", number=entry.pk), problem)
        closed = new
        if closed is not None:
            _nothing_since(entry.timestamp, closed, using, tally)
    through = Books.objects.using(using).values_list("closed_through", flat=True).first()
    if closed != (through and through.isoformat()):
        problem = _("closed through {through}; the change log says {closed}", through=through, closed=closed)
        tally.tell("closing", _("the ledger head"), problem)


def _nothing_since(closed_at: datetime, closed: str, using: str, tally: Tally) -> None:
    """Whatever was recorded after a closing has a later day than it, whichever way it came in."""
    late = Entry.objects.using(using).filter(posting__recorded_at__gt=closed_at, effective_on__lte=closed)
    for number in late.order_by("posting").values_list("posting", flat=True).distinct():
        problem = _("recorded after the books were closed through {closed}, on a day before", closed=closed)
        tally.tell("closing", _("posting {number}", number=number), problem)
