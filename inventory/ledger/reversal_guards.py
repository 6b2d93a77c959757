"""What stands against reversing a posting: later rooms register their guards here when the app starts."""

from collections.abc import Callable

from inventory.ledger.models import Posting

Guard = Callable[[Posting], str]

_guards: list[Guard] = []


def register(guard: Guard) -> None:
    """Ask this guard before a posting is reversed: it answers with what stands in the way, or with nothing."""
    if guard not in _guards:
        _guards.append(guard)


def reason_against(posting: Posting) -> str:
    """The first guard's reason against reversing a posting, in words for people; empty when there is none."""
    return next((reason for guard in _guards if (reason := guard(posting))), "")
