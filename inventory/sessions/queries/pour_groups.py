"""Pours sorted into groups: by technique, by size, by medium and month by month."""

from collections import defaultdict
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Generic, Protocol, TypeVar

from django.db.models import QuerySet

from inventory.sessions.models import Pour
from inventory.sessions.queries.media import media_of
from inventory.sessions.queries.paint_per_area import size_under
from studio.values.sizes import Size

# The newest: more than a studio pours in years, and few enough to be read at once.
MOST_POURS = 1_000


class PourGroup(Protocol):
    """Some pours together: what they have in common, and the share that groups are compared by, in millionths."""

    @property
    def key(self) -> object: ...

    @property
    def share(self) -> int: ...


G = TypeVar("G", bound=PourGroup)


@dataclass(frozen=True, slots=True)
class PourGroups(Generic[G]):
    """Pours in groups, the largest share first. `by_medium` names the media of a mix together; none is "".

    `total` is all of them together, None where there are none.
    """

    pours: int
    total: G | None
    by_technique: Sequence[G]
    by_size: Sequence[G]
    by_medium: Sequence[G]
    by_month: Sequence[G]


def groups_of(pours: QuerySet[Pour], group: Callable[[object, Sequence[Pour]], G]) -> PourGroups[G]:
    """Sort the newest of these pours into groups: four queries, however many there are."""
    newest = pours.select_related("session", "technique", "surface").order_by(
        "-session__held_on", "-session_id", "-number"
    )
    rows = list(newest[:MOST_POURS])
    media = media_of(rows)

    def grouped(key: Callable[[Pour], object]) -> list[G]:
        found: dict[object, list[Pour]] = defaultdict(list)
        for pour in rows:
            found[key(pour)].append(pour)
        return [group(each, members) for each, members in found.items()]

    return PourGroups(
        pours=len(rows),
        total=group("", rows) if rows else None,
        by_technique=_most_first(grouped(lambda pour: pour.technique.name)),
        by_size=sorted(grouped(size_under), key=lambda each: _area(each.key)),
        by_medium=_most_first(grouped(lambda pour: media.get(pour.pk, ""))),
        by_month=sorted(grouped(lambda pour: pour.session.held_on.replace(day=1)), key=_month),
    )


def _most_first(groups: Sequence[G]) -> list[G]:
    return sorted(groups, key=lambda group: (-group.share, str(group.key)))


def _area(size: object) -> int:
    return size.face_area() if isinstance(size, Size) else 0


def _month(group: PourGroup) -> date:
    return group.key if isinstance(group.key, date) else date.min
