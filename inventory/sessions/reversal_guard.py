"""What stands against reversing a session."""

from inventory.ledger.models import Posting
from inventory.sessions.models import Pour
from studio.translation import _


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
