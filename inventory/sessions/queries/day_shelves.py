"""What the shelf held on the days of a table of sessions, less what the rows above take: short before it is posted."""

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date

from inventory.errors import ShelfShortfall
from inventory.ledger.posting import rehearsal
from inventory.ledger.shortfalls import described
from inventory.materials.models import Material
from inventory.sessions.actions.sessions import SessionFacts, materials_of

Needs = Mapping[int, int]  # thousandths of the base unit, by material


@dataclass(slots=True)
class DayShelves:
    """Reads the shelf of a day once for each material, as a posting of that day would find it."""

    held: dict[tuple[date, int], int] = field(default_factory=dict)
    taken: dict[date, Counter[int]] = field(default_factory=dict)

    def short(self, facts: SessionFacts) -> list[str]:
        """In words, what the shelf of its day holds too little of for a session without mixes."""
        day, needs = facts.held_on, _needs(facts)
        materials = {each.pk: each for each in materials_of(facts)}
        self._read(day, [materials[pk] for pk in needs if (day, pk) not in self.held])
        found = []
        for pk, needed in needs.items():
            gone = sum(taken[pk] for earlier, taken in self.taken.items() if earlier <= day)
            held = max(self.held[day, pk] - gone, 0)
            if held < needed:
                each = materials[pk]
                found.append(described(ShelfShortfall(pk, each.name, each.measure, needed, held)))
        return found

    def take(self, facts: SessionFacts) -> None:
        """It is posted before the rows below, or would be."""
        self.taken.setdefault(facts.held_on, Counter()).update(_needs(facts))

    def _read(self, day: date, materials: list[Material]) -> None:
        if not materials:
            return
        draft = rehearsal(day)
        draft.load(materials)
        for pk, lots in draft.holdings.items():
            self.held[day, pk] = sum(lot.available for lot in lots.values() if lot.received_on <= day)


def _needs(facts: SessionFacts) -> Needs:
    needs = Counter[int]()
    for pour in facts.pours:
        if pour.surface is not None and not pour.surface.is_free:
            needs[pour.surface.pk] += 1000
        for dose in pour.doses:
            if dose.material is not None and not dose.material.is_free:
                needs[dose.material.pk] += dose.quantity
    return needs
