"""What a session would cost and leave on the shelf: the posting's own moves, tried out and never written.

Quantities are thousandths of the base unit, money millionths of the currency unit.
"""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date

from inventory.errors import ShelfShortfall
from inventory.ledger.accounts import mix_account
from inventory.ledger.models import EntryRole, Lot, Place
from inventory.ledger.posting import PostingDraft, rehearsal
from inventory.ledger.shortfalls import described
from inventory.recipes.actions import mixes
from inventory.recipes.actions.mixes import Ingredient, MixFacts
from inventory.recipes.models import Mix
from inventory.sessions.actions.sessions import SessionFacts, materials_of, move_all
from inventory.sessions.models import Pour

# Rows that are never saved are numbered from here on, beyond all that are: the newest is drawn last, as it will be.
NOT_SAVED = 10**15
SET_ASIDE = NOT_SAVED - 1


@dataclass(slots=True)
class Rehearsal:
    """What the moves came to. `mixes` and `pours` follow the facts; `left` and `short` are by material."""

    mixes: list[int] = field(default_factory=list)
    leftovers: list[int] = field(default_factory=list)
    pours: list[int] = field(default_factory=list)
    straight: dict[int, int] = field(default_factory=dict)
    left: dict[int, int] = field(default_factory=dict)
    shortfalls: list[ShelfShortfall] = field(default_factory=list)
    kept: int = 0
    thrown_away: int = 0

    @property
    def in_pours(self) -> int:
        """Materials of all pours, cup residue included."""
        return sum(self.pours)

    @property
    def described(self) -> list[str]:
        """Every shortfall in words."""
        return [described(item) for item in self.shortfalls]

    @property
    def others_short(self) -> int:
        """How many materials are short beside the first."""
        return len(self.shortfalls) - 1

    @property
    def short(self) -> dict[int, int]:
        return {item.material: item.short for item in self.shortfalls}


def rehearse(facts: SessionFacts, *, set_aside: Sequence[Ingredient] = ()) -> Rehearsal:
    """Try a session out in four queries at most, whatever its size. `set_aside` is paint in a cup and not poured yet.

    Raises MeniscusError for what makes no sense, as the writer would.
    """
    draft = rehearsal(facts.held_on)
    draft.load([*materials_of(facts), *(item.material for item in set_aside)])
    batches = [_batch(number, item, facts.held_on) for number, item in enumerate(facts.mixes)]
    pours = [Pour(pk=NOT_SAVED + number) for number in range(len(facts.pours))]
    move_all(draft, facts, batches, pours)
    for item in set_aside:
        draft.draw(item.material, item.quantity, mix_account(SET_ASIDE), chosen=item.lot)
    return _summed_up(draft, facts, batches, pours)


def _batch(number: int, facts: MixFacts, on: date) -> Mix:
    lot = mixes.prepare(facts, on)
    lot.pk = NOT_SAVED + number
    return Mix(pk=NOT_SAVED + number, lot=lot, leftover=facts.leftover)


def _summed_up(
    draft: PostingDraft, facts: SessionFacts, batches: Sequence[Mix], pours: Sequence[Pour]
) -> Rehearsal:
    into_cup, onto_pour, straight = Counter[int](), Counter[int](), Counter[int]()
    mixed = {mix.lot_id for mix in batches}
    thrown_away = 0
    for each in draft.movements:
        to = each.destination
        if to.mix is not None:
            into_cup[to.mix] += each.money
        if to.pour is not None:
            onto_pour[to.pour] += each.money
        if to.place == Place.LOSS:
            thrown_away += each.money
        is_poured = each.role == EntryRole.POURED and each.source.lot not in mixed
        if is_poured or to.mix == SET_ASIDE:
            straight[each.material_id] += each.money
    return Rehearsal(
        mixes=[into_cup[mix.pk] for mix in batches],
        leftovers=_leftovers(facts),
        pours=[onto_pour[pour.pk] for pour in pours],
        straight=dict(straight),
        left={pk: sum(lot.quantity for lot in lots.values()) for pk, lots in draft.holdings.items()},
        shortfalls=draft.shortfalls,
        kept=sum(_money_in(draft, mix.lot) for mix in batches),
        thrown_away=thrown_away,
    )


def _leftovers(facts: SessionFacts) -> list[int]:
    """What each mix leaves in its cup once all is poured."""
    poured = Counter[int]()
    for dose in (dose for pour in facts.pours for dose in pour.doses):
        if dose.mix is not None:
            poured[dose.mix] += dose.quantity
    return [mixes.yield_of(mix) - poured[position] for position, mix in enumerate(facts.mixes)]


def _money_in(draft: PostingDraft, lot: Lot) -> int:
    holding = draft.holdings.get(lot.material_id, {}).get(lot.pk)
    return holding.money if holding else 0
