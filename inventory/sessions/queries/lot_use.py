"""Which pours a lot went on."""

from inventory.ledger.models import Lot
from inventory.ledger.movements import destinations_from
from inventory.sessions.models import Pour


def pours_from(lot: Lot) -> tuple[Pour, ...]:
    """The standing pours that this lot itself went on, newest first."""
    charged = destinations_from(lot).filter(pour__isnull=False)
    return tuple(Pour.objects.filter(pk__in=charged.values("pour")).select_related("session", "surface"))
