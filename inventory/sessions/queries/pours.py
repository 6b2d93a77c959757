"""Which pours failed and are still bare, which cover them, and which a lot went on."""

from collections.abc import Collection

from django.db.models import Max

from inventory.ledger.labels import pour_label
from inventory.ledger.models import Lot, Posting, PostingKind
from inventory.ledger.movements import destinations_from
from inventory.sessions.models import Pour, PourQuerySet
from studio.translation import _

MOST_FAILED = 60


def bare_failed_pours() -> PourQuerySet:
    """Failed pours that are still there, with nothing poured over them."""
    covered = Pour.objects.standing().filter(over__isnull=False).values("over")
    return Pour.objects.standing().in_work().filter(outcome=Pour.Outcome.FAILED).exclude(pk__in=covered)


def failed_pours() -> dict[int, Pour]:
    """Failed pours that can be poured over, newest first."""
    failed = bare_failed_pours().select_related("surface", "session")
    return {pour.pk: pour for pour in failed.order_by("-session__held_on", "-pk")[:MOST_FAILED]}


def labels_of(pours: Collection[int]) -> dict[int, str]:
    """What is written on canvases, by the rows of their pours; struck out or not."""
    rows = Pour.with_struck.filter(pk__in=pours).values_list("pk", "canvas", "layer").order_by()
    return {pk: pour_label(canvas or pk, layer) for pk, canvas, layer in rows}


def places_over(failed: Collection[Pour]) -> dict[Pour | None, dict[str, int]]:
    """The canvas and the layer of the next pour on each of these; a layer that was undone keeps its number."""
    if not failed:
        return {}
    above = Pour.with_struck.filter(canvas__in={pour.canvas_number for pour in failed})
    last = dict(above.order_by().values_list("canvas").annotate(Max("layer")))
    return {
        pour: {"canvas_id": pour.canvas_number, "layer": last.get(pour.canvas_number, 1) + 1}
        for pour in failed
    }


def poured_over(posting: Posting) -> str:
    """Why a session is not reversed: the surface of a failed pour that was poured over is charged to both."""
    over = Pour.objects.standing().filter(over__session__posting=posting).first()
    if over is None:
        return ""
    return _(
        "{below} has since been poured over, by {pour}. Reverse that session first.",
        below=over.over,
        pour=over,
    )


def session_corrected(posting: Posting) -> str:
    """Why the correction of a session is not reversed: its rows say by now what it made of them."""
    if posting.corrects is None or posting.corrects.kind != PostingKind.SESSION:
        return ""
    return _("A corrected session is put back by correcting it again, or reversed as a whole.")


def pours_from(lot: Lot) -> tuple[Pour, ...]:
    """The standing pours that this lot itself went on, newest first."""
    charged = destinations_from(lot).filter(pour__isnull=False)
    return tuple(Pour.objects.filter(pk__in=charged.values("pour")).select_related("session", "surface"))
