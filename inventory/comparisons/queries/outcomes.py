"""How pours turned out: by technique, by size, by medium, and month by month. Of pours that were judged."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from django.db.models import QuerySet

from inventory.comparisons.calculations.shares import ShareRange, likely_share
from inventory.comparisons.queries.blinding import hidden_pours
from inventory.sessions.models import Pour, PourOutcome
from inventory.sessions.queries.pour_groups import PourGroups, groups_of
from studio.values.allocation import MILLION, divide_half_up


@dataclass(frozen=True, slots=True)
class OutcomeGroup:
    """Some judged pours together: how many turned out how."""

    key: object
    good: int
    seconds: int
    failed: int

    @property
    def pours(self) -> int:
        return self.good + self.seconds + self.failed

    @property
    def share(self) -> int:
        """How many of them failed, in millionths."""
        return divide_half_up(self.failed * MILLION, self.pours)

    @property
    def likely(self) -> ShareRange:
        """Between which shares, in millionths, failing probably lies for pours of this kind."""
        return likely_share(self.failed, self.pours)


Outcomes = PourGroups[OutcomeGroup]


def judged_pours() -> QuerySet[Pour]:
    """Pours that stand and were judged; not those whose arm a blind comparison still hides: a group would tell it."""
    judged = Pour.objects.standing().exclude(outcome=PourOutcome.OPEN)
    return judged.exclude(pk__in=hidden_pours().values("pour"))


def outcomes_of(pours: QuerySet[Pour]) -> Outcomes:
    """Sort the newest of these pours into groups by how they turned out."""
    return groups_of(pours, _group)


def _group(key: object, pours: Sequence[Pour]) -> OutcomeGroup:
    said = Counter(pour.outcome for pour in pours)
    return OutcomeGroup(key, said[PourOutcome.GOOD], said[PourOutcome.SECOND], said[PourOutcome.FAILED])
