"""Where a session's page leads on to: told by the floor above, of which this one knows nothing."""

from collections.abc import Callable
from typing import NamedTuple

from inventory.sessions.models import Session


class Onward(NamedTuple):
    """A link on the page of a session, for those who may write."""

    url: str
    label: str


Lead = Callable[[Session], Onward]
_leads: list[Lead] = []


def register(lead: Lead) -> None:
    """Show this link on the page of every session that stands and has pours."""
    if lead not in _leads:
        _leads.append(lead)


def onward_from(session: Session) -> list[Onward]:
    return [lead(session) for lead in _leads]
