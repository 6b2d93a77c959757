"""How much ran off: by technique, by size, by medium, and month by month. Of pours whose run-off was measured."""

from collections.abc import Sequence
from dataclasses import dataclass

from django.db.models import QuerySet

from inventory.sessions.models import Pour
from inventory.sessions.queries.pour_groups import PourGroups, groups_of
from studio.values.allocation import MILLION, divide_half_up


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


RunOff = PourGroups[RunOffGroup]


def measured_pours() -> QuerySet[Pour]:
    """Pours that stand and whose run-off was measured."""
    return Pour.objects.standing().filter(run_off__isnull=False, poured__gt=0)


def run_off_of(pours: QuerySet[Pour]) -> RunOff:
    """Sort the newest of these pours into groups by how much ran off."""
    return groups_of(pours, _group)


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
