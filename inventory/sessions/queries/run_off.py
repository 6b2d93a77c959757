"""How much ran off: by technique, by size, by medium, and month by month. Of pours whose run-off was measured."""

from collections import defaultdict
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from django.db.models import QuerySet

from inventory.sessions.models import Pour
from inventory.sessions.queries.media import media_of
from inventory.sessions.queries.paint_per_area import size_under
from studio.values.allocation import MILLION, divide_half_up
from studio.values.sizes import Size

# The newest: more than a studio pours in years, and few enough to be read at once.
MOST_POURS = 1_000


@dataclass(frozen=True, slots=True)
class RunOffGroup:
    """Some pours together: poured and run off in thousandths of a mL, the least and the largest share in millionths."""

    key: object
    pours: int
    poured: int
    ran_off: int
    least: int
    largest: int

    @property
    def share(self) -> int:
        """How much of what was poured ran off, in millionths."""
        return divide_half_up(self.ran_off * MILLION, self.poured)


@dataclass(frozen=True, slots=True)
class RunOff:
    """The run-off of pours, sorted into groups. `by_medium` names the media of a mix together; none is ""."""

    pours: int
    by_technique: Sequence[RunOffGroup]
    by_size: Sequence[RunOffGroup]
    by_medium: Sequence[RunOffGroup]
    by_month: Sequence[RunOffGroup]


def measured_pours() -> QuerySet[Pour]:
    """Pours that stand and whose run-off was measured."""
    return Pour.objects.standing().filter(run_off__isnull=False, poured__gt=0)


def run_off_of(pours: QuerySet[Pour]) -> RunOff:
    """Sort the newest of these pours into groups: four queries, however many there are."""
    newest = pours.select_related("session", "technique", "surface").order_by(
        "-session__held_on", "-session_id", "-number"
    )
    rows = list(newest[:MOST_POURS])
    media = media_of(rows)
    return RunOff(
        pours=len(rows),
        by_technique=_most_first(_grouped(rows, lambda pour: pour.technique.name)),
        by_size=sorted(_grouped(rows, size_under), key=lambda group: _area(group.key)),
        by_medium=_most_first(_grouped(rows, lambda pour: media.get(pour.pk, ""))),
        by_month=sorted(
            _grouped(rows, lambda pour: pour.session.held_on.replace(day=1)),
            key=lambda group: group.key if isinstance(group.key, date) else date.min,
        ),
    )


def _grouped(pours: Iterable[Pour], key: Callable[[Pour], object]) -> list[RunOffGroup]:
    groups: dict[object, list[Pour]] = defaultdict(list)
    for pour in pours:
        groups[key(pour)].append(pour)
    return [_group(key, members) for key, members in groups.items()]


def _group(key: object, pours: Sequence[Pour]) -> RunOffGroup:
    shares = [divide_half_up((pour.run_off or 0) * MILLION, pour.poured) for pour in pours]
    return RunOffGroup(
        key,
        len(pours),
        sum(pour.poured for pour in pours),
        sum(pour.run_off or 0 for pour in pours),
        min(shares),
        max(shares),
    )


def _most_first(groups: Sequence[RunOffGroup]) -> list[RunOffGroup]:
    return sorted(groups, key=lambda group: (-group.share, str(group.key)))


def _area(size: object) -> int:
    return size.face_area() if isinstance(size, Size) else 0
