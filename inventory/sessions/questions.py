"""What is asked before a session is posted: what its mixes ask, and amounts poured or minutes far from the usual."""

from collections import defaultdict
from collections.abc import Callable, Collection, Sequence
from fractions import Fraction
from typing import TYPE_CHECKING

from inventory.ledger.questions import ask_if_unusual, each_once, latest_of_each
from inventory.ledger.usual_amounts import MOST_PAST, Amount, PastAmounts
from inventory.recipes.questions import questions_about_mixes
from inventory.sessions.models import Pour, Session, Technique
from studio.errors import Question
from studio.preferences.formatting import Formatter
from studio.preferences.models import Studio
from studio.translation import _
from studio.values.allocation import divide_half_up
from studio.values.units import Measure

if TYPE_CHECKING:
    from inventory.sessions.actions.sessions import PourFacts, SessionFacts


def questions_about_session(facts: "SessionFacts", poured: Sequence[int]) -> list[Question]:
    """Everything that should be confirmed of a session, in a constant number of queries.

    `poured` has each pour's volume in thousandths of a mL.
    """
    studio = Studio.current()
    formatter = Formatter.of(studio)
    return each_once(
        [
            *questions_about_mixes(facts.mixes, studio),
            *_about_pours(facts.pours, poured, formatter),
            *_about_minutes(facts.minutes),
        ]
    )


def _about_pours(pours: "Sequence[PourFacts]", poured: Sequence[int], formatter: Formatter) -> list[Question]:
    """Paint per area, set against the latest pours of the same technique, whatever became of them."""
    own = _own_pours({pour.technique for pour in pours}) if pours else {}
    # Most pours of a session are alike, and are judged once.
    different = {
        (pour.technique, *pour.covered, volume): None for pour, volume in zip(pours, poured, strict=True)
    }
    questions: list[Question] = []
    for technique, surface, area, volume in different:
        past = own.get(technique.pk, [])
        is_alike = all(other == area for _volume, other in past[:MOST_PAST])
        names = {"technique": technique.name, "surface": surface.name}
        what = (
            _("{technique} on {surface}", **names)
            if is_alike
            else _("{technique} on {surface}, by its area", **names)
        )
        questions += ask_if_unusual(
            ("pour", what),
            Fraction(volume, area),
            PastAmounts(Fraction(*like) for like in past),
            about=(technique.pk, surface.pk),
            write=_written_for(area, formatter),
        )
    return questions


def _own_pours(techniques: Collection[Technique]) -> dict[int, list[tuple[int, int]]]:
    """What the latest pours of each technique took, and on what area; newest first."""
    own: dict[int, list[tuple[int, int]]] = defaultdict(list)
    rows = latest_of_each(Pour.objects.standing().poured_here().filter(technique__in=techniques), "technique")
    for technique, volume, area in rows.values_list("technique", "poured", "area"):
        own[technique].append((volume, area))
    return own


def _written_for(area: int, formatter: Formatter) -> Callable[[Amount], str]:
    """Writes paint per area as the amount for this area."""

    def write(rate: Amount) -> str:
        volume = Fraction(rate) * area
        return formatter.short_quantity(divide_half_up(volume.numerator, volume.denominator), Measure.VOLUME)

    return write


def _about_minutes(minutes: int) -> list[Question]:
    if not minutes:
        return []
    latest = Session.objects.standing().filter(minutes__gt=0).order_by("-pk")[:MOST_PAST]
    past = latest.values_list("minutes", flat=True)
    return ask_if_unusual(("minutes", _("Minutes worked")), minutes, PastAmounts(past), about=(), write=str)
