"""What blind comparisons hide: the note that names a pour's arm, wherever a judge could look."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, cast

from django.db.models import QuerySet

from inventory.comparisons.models import ComparedPour, Comparison
from inventory.plans.models import Plan
from inventory.sessions.models import Pour


@dataclass(frozen=True, slots=True)
class HiddenArms:
    """The pours whose arm nobody may see yet, and their sessions."""

    pours: frozenset[int]
    sessions: frozenset[int]

    def arm_of(self, pour: Pour) -> str:
        """The note that names a pour's arm; nothing while it is hidden."""
        return "" if pour.pk in self.pours else pour.arm

    def hides_plan(self, plan: Plan) -> bool:
        """Whether the lines of a plan would tell of the arms of what it became."""
        return plan.session_id in self.sessions


def hidden_pours() -> QuerySet[ComparedPour]:
    """The pours in blind comparisons that are still being scored, as they stand there."""
    return ComparedPour.objects.filter(comparison__in=Comparison.objects.hiding_arms())


def hidden_arms() -> HiddenArms:
    """What the blind comparisons that are still being scored hide. One query."""
    found = list(hidden_pours().values_list("pour_id", "pour__session_id"))
    return HiddenArms(frozenset(pour for pour, _session in found), frozenset(each for _pour, each in found))


def hidden_in(context: Mapping[str, Any]) -> HiddenArms:
    """The same for the serializers of one answer, which share a context: read once."""
    kept = cast("dict[str, HiddenArms]", context)
    if "hidden_arms" not in kept:
        kept["hidden_arms"] = hidden_arms()
    return kept["hidden_arms"]
