"""What a session should have moved, beside what it has moved; and the movements that make up the difference.

Quantities are thousandths of the base unit, money millionths of the currency unit.
"""

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

from inventory.ledger.accounts import AccountReference, lot_account
from inventory.ledger.models import Lot, Place, Posting
from inventory.ledger.posting import PostingDraft
from inventory.ledger.restatement import Account, Fact, with_corrections
from inventory.ledger.restating import posted_facts
from inventory.materials.models import Material
from inventory.sessions.models import Session
from studio.values.allocation import divide_half_up

Moved = tuple[AccountReference, int, int]  # from where, quantity, money; below zero for what goes back


class Use(NamedTuple):
    """What a material was taken for: into which account, as what."""

    destination: AccountReference
    material: int
    role: str


@dataclass(slots=True)
class Wanted:
    """So much of a material for one use; from one lot, if that was chosen, and `only` from that."""

    material: Material
    quantity: int
    chosen: int | None
    only: bool


@dataclass(slots=True)
class SessionTargets:
    """Takes the moves of a session as a draft does, and keeps them to be compared with what was posted."""

    posted: list[Fact]
    wanted: dict[Use, list[Wanted]] = field(default_factory=lambda: defaultdict(list))
    made: dict[AccountReference, tuple[Lot, int]] = field(default_factory=dict)

    @classmethod
    def recorded(cls, session: Session) -> "SessionTargets":
        """What a session has moved so far, its standing corrections included."""
        corrections = Posting.objects.filter(corrects=session.posting, reversed_by=None)
        numbers = [session.posting_id, *corrections.values_list("number", flat=True)]
        first, *others = posted_facts(only=numbers)
        own = [each for each in first.movements if not each.is_derived]
        return cls(with_corrections(own, [fact for posted in others for fact in posted.corrections]))

    @property
    def materials(self) -> Iterable[Material]:
        """The materials that were moved."""
        return Material.objects.filter(pk__in={fact.material for fact in self.posted})

    # The two moves of a draft that a session makes

    def draw(
        self,
        material: Material,
        quantity: int,
        destination: AccountReference,
        *,
        role: str = "",
        chosen: int | None = None,
        only: bool = False,
    ) -> int:
        """Ask for so much of a material. No money is known before the difference is moved."""
        if quantity:
            use = Use(destination, material.pk, str(role))
            self.wanted[use].append(Wanted(material, quantity, chosen, only))
        return 0

    def receive(self, lot: Lot, *, quantity: int, money: int, source: AccountReference) -> None:
        """Ask for so much of a mix to come out of its cup."""
        self.made[source] = lot, quantity

    # The difference

    def move_differences(self, draft: PostingDraft) -> None:
        """Put the movements into a draft that turn what was posted into what is wanted."""
        before: dict[Use, list[Fact]] = defaultdict(list)
        cups: dict[AccountReference, Fact] = {}
        for fact in self.posted:
            source = _reference(fact.source)
            if source.place == Place.MIX:
                cups[source] = fact
            elif fact.destination[0] != Place.LOT:  # what a mix's lot was corrected by stays as it is
                before[Use(_reference(fact.destination), fact.material, fact.role)].append(fact)
        own_lots = {fact.destination[1] for fact in cups.values()} | {
            lot.pk for lot, _made in self.made.values()
        }
        uses = {
            use: _difference(use, self.wanted.get(use, []), before.get(use, []), own_lots)
            for use in dict.fromkeys([*before, *self.wanted])
        }
        for use, (moved, _more) in uses.items():
            for source, quantity, money in moved:
                draft.move(
                    source, use.destination, use.material, quantity=quantity, money=money, role=use.role
                )
        for into_cups in (True, False):
            for use, (_moved, more) in uses.items():
                if (use.destination.place == Place.MIX) is into_cups:
                    for each in more:
                        draft.draw(
                            each.material, each.quantity, use.destination, role=use.role, chosen=each.chosen
                        )
            if into_cups:
                self._make_more(draft, cups)
        # What goes in must be known before what comes out of it: they are merged into the session from its end.
        draft.movements.reverse()

    def _make_more(self, draft: PostingDraft, cups: Mapping[AccountReference, Fact]) -> None:
        """Let each cup give out what its mix came to, with the money that went in."""
        for cup in dict.fromkeys([*cups, *self.made]):
            posted = cups.get(cup)
            if cup in self.made:
                (lot, quantity), account = self.made[cup], lot_account(self.made[cup][0].pk)
                material = lot.material_id
            elif posted is not None:
                quantity, account, material = 0, _reference(posted.destination), posted.material
            money = sum(each.money for each in draft.movements if each.destination == cup)
            more = quantity - (posted.quantity if posted else 0)
            draft.move(cup, account, material, quantity=more, money=money)


def _difference(
    use: Use, wanted: Sequence[Wanted], before: Sequence[Fact], own_lots: Collection[int | None]
) -> tuple[list[Moved], list[Wanted]]:
    """What moves as it was recorded, more or less of it; and what is drawn from the shelf besides."""
    is_poured = use.destination.place != Place.MIX
    from_cups = [fact for fact in before if is_poured and fact.source[1] in own_lots]
    from_shelf = [fact for fact in before if fact not in from_cups]
    moved: list[Moved] = []
    lots = dict.fromkeys(
        [fact.source[1] for fact in from_cups] + [each.chosen for each in wanted if each.only]
    )
    for lot in lots:
        facts = [fact for fact in from_cups if fact.source[1] == lot]
        quantity = sum(each.quantity for each in wanted if each.only and each.chosen == lot)
        more = quantity - sum(fact.quantity for fact in facts)
        if more and lot is not None:
            moved.append((lot_account(lot), more, _cost(facts, more)))
    drawn = [each for each in wanted if not each.only]
    chosen = {each.chosen for each in drawn} - {None}
    more = sum(each.quantity for each in drawn) - sum(fact.quantity for fact in from_shelf)
    if chosen - {fact.source[1] for fact in from_shelf}:
        moved += [(_reference(fact.source), -fact.quantity, -fact.money) for fact in from_shelf]
        return moved, drawn
    if more > 0:
        lot = next(iter(chosen), from_shelf[-1].source[1] if from_shelf else None)
        return moved, [Wanted(drawn[0].material, more, lot, only=False)]
    for fact in reversed(from_shelf):
        back = min(fact.quantity, -more)
        if back > 0:
            moved.append((_reference(fact.source), -back, -divide_half_up(fact.money * back, fact.quantity)))
            more += back
    return moved, []


def _cost(facts: Sequence[Fact], quantity: int) -> int:
    """What a quantity cost at the rate of what was recorded; what it costs by now is restated when it is posted."""
    whole = sum(fact.quantity for fact in facts)
    return divide_half_up(sum(fact.money for fact in facts) * quantity, whole) if whole else 0


def _reference(account: Account) -> AccountReference:
    return AccountReference(Place(account[0]), *account[1:])
