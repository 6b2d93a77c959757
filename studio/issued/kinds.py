"""Which papers can be issued. Each floor registers its own when it starts up."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from studio.accounts.models import Role, User
from studio.accounts.roles import EVERYONE
from studio.papers.lines import Document
from studio.preferences.models import Studio

if TYPE_CHECKING:
    from django.utils.functional import _StrOrPromise


@dataclass(frozen=True, slots=True)
class IssuedKind:
    """A kind of paper: how it is written today, on which page it is issued, and who reads it.

    `write` raises Http404 when there is no such row. Of a final kind the first issue stands for good.
    """

    code: str
    label: "_StrOrPromise"
    write: Callable[[Studio, int], Document]
    page: Callable[[int], str]
    readers: Sequence[Role] = EVERYONE
    needs_money: bool = False
    is_final: bool = False

    def may_be_read_by(self, user: User) -> bool:
        return user.role in self.readers and (user.sees_money or not self.needs_money)


_kinds: dict[str, IssuedKind] = {}


def register(*kinds: IssuedKind) -> None:
    _kinds.update({kind.code: kind for kind in kinds})


def kind_of(code: str) -> IssuedKind | None:
    return _kinds.get(code)


def kinds_for(user: User) -> list[IssuedKind]:
    """Those whose papers somebody may read."""
    return [kind for kind in _kinds.values() if kind.may_be_read_by(user)]
