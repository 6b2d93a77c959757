"""What can be searched for: each floor registers the kinds of thing that it brings, from its app's `ready`."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from django.db.models import Q, QuerySet

if TYPE_CHECKING:
    from django.utils.functional import _StrOrPromise

    from studio.accounts.models import User
    from studio.preferences.formatting import Formatter


def everyone(user: "User") -> bool:
    return True


def no_code(text: str) -> Q | None:
    return None


@dataclass(frozen=True, slots=True)
class Hit:
    """One thing that was found: its name, what tells it from others, and its page. It holds no money."""

    key: int
    title: str
    url: str
    note: str = ""


@dataclass(frozen=True, slots=True)
class SearchKind:
    """One kind of thing.

    `rows` holds what may be found, in the order shown, joined with all that `hit` reads: one query looks through it.
    `fits` says when a row fits one word; `has_code` when a row is the one that a whole text names, such as L0012.
    With `gives_way` its codes count only where no other kind has the same one.
    """

    name: str
    label: "_StrOrPromise"
    icon: str
    rows: Callable[[], QuerySet[Any]]
    fits: Callable[[str], Q]
    hit: "Callable[[Any, Formatter], Hit]"
    has_code: Callable[[str], Q | None] = no_code
    gives_way: bool = False
    allowed: Callable[["User"], bool] = everyone


_KINDS: dict[str, SearchKind] = {}


def register(*kinds: SearchKind) -> None:
    """Let these be found, after those that are registered already."""
    _KINDS.update((kind.name, kind) for kind in kinds)


def kinds_for(user: "User") -> Iterator[SearchKind]:
    """What this person may find."""
    return (kind for kind in _KINDS.values() if kind.allowed(user))
