"""What the scale showed in a session: which pours it was read for, and the writer that keeps it beside them."""

from collections.abc import Sequence
from dataclasses import asdict, dataclass

from inventory.sessions.models import Pour, Session, Weighing
from inventory.sessions.weighing import Readings
from studio.errors import InputError
from studio.translation import _


@dataclass(frozen=True, slots=True)
class WeighingFacts:
    """Readings for some pours of the session together, which it names by their positions."""

    pours: Sequence[int]
    readings: Readings

    def problems(self, weighings: Sequence["WeighingFacts"], *, pours: int) -> list[InputError]:
        """What is wrong with it in a session of so many pours with these weighings."""
        if not self.pours or any(not 0 <= position < pours for position in self.pours):
            return [InputError(_("Name the pours that were weighed by their numbers."), field="pours")]
        others = [position for each in weighings if each is not self for position in each.pours]
        if len(set(self.pours)) < len(self.pours) or set(self.pours) & set(others):
            return [InputError(_("A pour can be part of one weighing only."), field="pours")]
        return []


def add_weighings(
    weighed: Sequence[WeighingFacts], session: Session, pours: Sequence[Pour]
) -> list[Weighing]:
    """Keep the readings beside the pours that they were taken of; `pours` follow the facts.

    In a correction they take the place of earlier readings of the same pours.
    """
    anew = {pours[position].pk for facts in weighed for position in facts.pours}
    if anew:
        session.weighings.filter(pours__in=anew).delete()
    rows = []
    for facts in weighed:
        row = Weighing.objects.create(session=session, **asdict(facts.readings))
        row.pours.set([pours[position] for position in facts.pours])
        rows.append(row)
    return rows
