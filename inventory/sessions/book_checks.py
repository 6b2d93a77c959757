"""What a check of the books looks at in sessions: pours that were thrown away."""

from inventory.ledger.findings import Tally
from inventory.ledger.models import Entry, Posting, PostingKind
from inventory.sessions.models import Pour
from studio.translation import _


def check_thrown_away(using: str, tally: Tally) -> None:
    """A pour that was thrown away counts as failed, and nothing is poured over it."""
    write_offs = Posting.objects.using(using).filter(kind=PostingKind.POUR_WRITE_OFF).values("number")
    moved = Entry.objects.using(using).filter(posting__in=write_offs).values("pour")
    pours = Pour.objects.using(using).filter(pk__in=moved).order_by("pk")
    poured_over = Pour.objects.using(using).filter(over__isnull=False).standing().order_by()
    covered = set(poured_over.values_list("over_id", flat=True))
    for pour in pours.with_thrown_away():
        if pour.thrown_away_by is None:
            continue
        tally.looked(1, "outcomes")
        if pour.outcome != Pour.Outcome.FAILED:
            tally.tell(
                "outcomes",
                _("pour {pour}", pour=pour.pk),
                _("it was thrown away and does not read as failed"),
            )
        if pour.pk in covered:
            tally.tell("outcomes", _("pour {pour}", pour=pour.pk), _("it was thrown away, and poured over"))
