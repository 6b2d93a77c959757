"""What every movement costs once the whole story is known: the ledger lived through again from its facts.

Facts are the quantities, the lots that were drawn, the days, and the money that came in from outside: receipts,
stocktake gains, free material, cost corrections. All other money follows from them under the costing method, so a cost
that was learned late, or a receipt that was a mistake, leaves every figure as if the truth had been known on its day:

- postings are taken by business day, then number, corrections at the place of what they correct; by lot this begins
  with the first correction, since until then a draw keeps the share that it took;
- under the weighted average the money of a material is shared over its lots by quantity after each receipt (IAS 2,
  paragraph 27).

What was reversed on its own day never happened; otherwise a reversal gives back what its posting costs by then. What
fills a lot on a day comes before what is drawn from it on that day, if it is needed for it.

What leaves a pour leaves it whole: when a session was corrected, a sale or a loss takes what the pour holds by then.

Plain rows come in and differences go out; nothing here reads the database. Quantities are thousandths of the base
unit, money millionths of the currency unit.
"""

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from typing import NamedTuple

from inventory.ledger.costing_methods import cost_of_draw
from studio.values.allocation import allocate

LOT, MIX, WORK, FROM_OUTSIDE = "lot", "mix", "work", frozenset({"outside", "gain"})
Amounts = tuple[int, int]  # quantity, money
Account = tuple[str, int | None, int | None, int | None, int | None]  # place, lot, mix, pour, reason
NOWHERE: Account = ("", None, None, None, None)


class Fact(NamedTuple):
    """One movement: so much of a material and its money, on a day, from one account to another."""

    day: date
    source: Account
    destination: Account
    material: int
    role: str
    quantity: int
    money: int

    @property
    def is_derived(self) -> bool:
        """Whether it only restates what other movements cost."""
        return not self.quantity and self.source[0] not in FROM_OUTSIDE


class PostedFacts(NamedTuple):
    """A posting with all its movements."""

    number: int
    day: date
    reverses: int | None
    corrects: int | None
    movements: Sequence[Fact]

    @property
    def corrections(self) -> list[Fact]:
        """Of a correction, the facts that it changes. What leaves a pour in consequence is no fact of it."""
        return [each for each in self.movements if not each.is_derived and each.source[0] != WORK]


class Flow(NamedTuple):
    """What moved where, on which day and why. Between two lots each end is a flow of its own, to or from nowhere."""

    day: date
    source: Account
    destination: Account
    material: int
    role: str


@dataclass(slots=True)
class Restatement:
    """The ledger's postings, taken in order of their numbers, and by how much each flow is off.

    `corrections` holds the standing corrections' facts by the posting that they correct, `moved_to` the day to which
    they move it, `reversed_on` the day on which a posting was reversed. Differences in a closed period stand on the
    first open day.
    """

    is_average: bool
    corrections: Mapping[int, Sequence[Fact]]
    reversed_on: Mapping[int, date]
    closed_through: date | None = None
    moved_to: Mapping[int, date] = field(default_factory=dict)
    differences: dict[Flow, Amounts] = field(default_factory=dict)
    costs: dict[int, list[Fact]] = field(default_factory=dict)
    lots: dict[int, list[int]] = field(default_factory=lambda: defaultdict(lambda: [0, 0]))
    work: dict[Account, dict[int, list[int]]] = field(
        default_factory=lambda: defaultdict(lambda: defaultdict(lambda: [0, 0]))
    )
    mixes: dict[int | None, int] = field(default_factory=lambda: defaultdict(int))
    lots_of: dict[int, set[int]] = field(default_factory=lambda: defaultdict(set))
    waiting: list[PostedFacts] = field(default_factory=list)
    is_below_zero: bool = False  # whether something ever cost less than nothing
    _correcting: set[int] = field(default_factory=set)
    _filling: dict[int, list[PostedFacts]] = field(default_factory=lambda: defaultdict(list))
    _lived: set[int] = field(default_factory=set)

    def take(self, posting: PostedFacts) -> None:
        """Take the next posting. They are lived through when all are there."""
        for each in posting.movements:
            self._differ(each, -1)
        if posting.corrects is not None:
            self._correcting.add(posting.number)
        elif posting.reverses not in self._correcting:
            self.waiting.append(posting)

    def finish(self) -> dict[Flow, Amounts]:
        """By how much the quantity and the money of each flow are off, where they are."""
        on = {posting.number: posting.day for posting in self.waiting}
        happened = []
        for posting in self.waiting:
            original = posting.number if posting.reverses is None else posting.reverses
            if self.reversed_on.get(original) != on.get(original):
                happened.append(self._as_corrected(posting))
        happened.sort(key=lambda posting: (posting.day, posting.number))
        for posting in happened:
            for lot in filled_by(posting):
                self._filling[lot].append(posting)
        for posting in happened:
            self._live_in_time(posting)
        self.waiting.clear()
        return self.differences

    def _as_corrected(self, posting: PostedFacts) -> PostedFacts:
        facts = [each for each in posting.movements if not each.is_derived]
        corrected = with_corrections(facts, self.corrections.get(posting.number, ()))
        if (day := self.moved_to.get(posting.number)) is not None:
            return posting._replace(day=day, movements=[each._replace(day=day) for each in corrected])
        return posting._replace(movements=corrected)

    def _live_in_time(self, posting: PostedFacts) -> None:
        """Live through a posting, after whatever filled the lots that it draws from, if that was recorded later."""
        if posting.number in self._lived:
            return
        self._lived.add(posting.number)
        drawn, own = Counter[int](), filled_by(posting)
        for fact in posting.movements if posting.reverses is None else ():
            if fact.source[0] == LOT and fact.source[1] not in own:
                drawn[fact.source[1] or 0] += fact.quantity
        for lot, quantity in drawn.items():
            for filling in self._filling[lot] if quantity > self.lots[lot][0] else ():
                if filling.day <= posting.day and quantity > self.lots[lot][0]:
                    self._live_in_time(filling)
        self._live(posting)

    def _live(self, posting: PostedFacts) -> None:
        if posting.reverses is not None:
            costed = [
                each._replace(day=posting.day, quantity=-each.quantity, money=-each.money)
                for each in self.costs.get(posting.reverses, ())
            ]
            for each in costed:
                self._move(each)
        else:
            costed = [self._costed(each) for each in self._emptying(posting.movements)]
            if posting.number in self.reversed_on:
                self.costs[posting.number] = costed
        for each in costed:
            self._differ(each, 1)
            self.is_below_zero |= any(
                self.lots[lot][1] < 0 for _place, lot, *_rest in (each.source, each.destination) if lot
            )
        if self.is_average:
            self._even_out(posting.day, costed)

    def _emptying(self, facts: Sequence[Fact]) -> list[Fact]:
        """The facts, where paint leaves a pour with everything that is in it by now."""
        leaving: dict[Account, list[Fact]] = defaultdict(list)
        for fact in facts:
            if fact.source[0] == WORK:
                leaving[fact.source].append(fact)
        return [fact for fact in facts if fact.source not in leaving] + [
            fact
            for source, leaving_it in leaving.items()
            for material, held in sorted(self.work[source].items())
            if any(held)
            for fact in shared_out(leaving_it, material, held[0])
        ]

    def _costed(self, fact: Fact) -> Fact:
        """The movement with the money that its source gives it, moved."""
        place, lot, mix, *_rest = fact.source
        if place == LOT:
            fact = fact._replace(money=_share(self.lots[lot or 0], fact.quantity))
        elif place == MIX:
            fact = fact._replace(money=self.mixes.pop(mix, 0))
        elif place == WORK:
            fact = fact._replace(money=_share(self.work[fact.source][fact.material], fact.quantity))
        self._move(fact)
        self.is_below_zero |= fact.money < 0 < fact.quantity
        return fact

    def _move(self, fact: Fact) -> None:
        for account, sign in ((fact.source, -1), (fact.destination, 1)):
            place, lot, mix, *_rest = account
            if place == LOT:
                held = self.lots[lot or 0]
                self.lots_of[fact.material].add(lot or 0)
            elif place == WORK:
                held = self.work[account][fact.material]
            elif place == MIX:
                if sign > 0:
                    self.mixes[mix] += fact.money
                continue
            else:
                continue
            held[0] += sign * fact.quantity
            held[1] += sign * fact.money

    def _even_out(self, day: date, costed: Iterable[Fact]) -> None:
        received = {
            each.material
            for each in costed
            if (each.destination[0] == LOT and each.quantity > 0)
            or (each.source[0] == LOT and each.quantity < 0)
        }
        for material in sorted(received):
            lots = [lot for lot in sorted(self.lots_of[material]) if self.lots[lot][0] > 0]
            even = even_out([(self.lots[lot][0], self.lots[lot][1]) for lot in lots])
            for lot, money in zip(lots, even, strict=True):
                change, self.lots[lot][1] = money - self.lots[lot][1], money
                self._add(Flow(day, NOWHERE, (LOT, lot, None, None, None), material, ""), 0, change)

    def _differ(self, fact: Fact, sign: int) -> None:
        day, source, destination, material, role = fact[:5]
        if source[0] == LOT and destination[0] == LOT:
            self._add(Flow(day, NOWHERE, source, material, ""), 0, -sign * fact.money)
            self._add(Flow(day, NOWHERE, destination, material, ""), 0, sign * fact.money)
        else:
            self._add(Flow(day, source, destination, material, role), sign * fact.quantity, sign * fact.money)

    def _add(self, flow: Flow, quantity: int, money: int) -> None:
        if not quantity and not money:
            return
        if self.closed_through is not None and flow.day <= self.closed_through:
            flow = flow._replace(day=self.closed_through + timedelta(days=1))
        before = self.differences.pop(flow, (0, 0))
        after = before[0] + quantity, before[1] + money
        if any(after):
            self.differences[flow] = after


def filled_by(posting: PostedFacts) -> set[int]:
    """The lots that something came into by a posting, other than what its reversal gave back."""
    if posting.reverses is not None:
        return set()
    return {
        fact.destination[1] or 0
        for fact in posting.movements
        if fact.destination[0] == LOT and fact.quantity > 0
    }


def shared_out(leaving: Sequence[Fact], material: int, quantity: int) -> list[Fact]:
    """All that a pour holds of a material, on the ways by which things left it: as posted, where that is all of it.

    Where it is more or less by now, or something new, several takers share it as they shared what was posted.
    """
    own = [fact for fact in leaving if fact.material == material]
    if own and sum(fact.quantity for fact in own) == quantity:
        return own
    ways: dict[Account, Fact] = {}
    for fact in leaving:
        ways.setdefault(fact.destination, fact)
    weights = [sum(fact.quantity for fact in leaving if fact.destination == to) for to in ways]
    if len(ways) == 1:
        return [leaving[0]._replace(material=material, quantity=quantity)]
    parts = zip(ways.values(), allocate(quantity, weights), strict=True)
    return [way._replace(material=material, quantity=part) for way, part in parts if part]


def with_corrections(facts: Sequence[Fact], corrections: Sequence[Fact]) -> list[Fact]:
    """A posting's facts as they were corrected: more or less on the same way, or a way that was missing.

    What goes into a mix goes in before anything comes out of it.
    """
    if not corrections:
        return list(facts)
    merged = list(facts)
    for each in corrections:
        ways = [(fact.source, fact.destination, fact.material, fact.role) for fact in merged]
        way = (each.source, each.destination, each.material, each.role)
        if way in ways:
            place = ways.index(way)
            was = merged[place]
            merged[place] = was._replace(quantity=was.quantity + each.quantity, money=was.money + each.money)
        else:
            merged.insert(_place_for(each, merged), each._replace(day=facts[0].day if facts else each.day))
    return [fact for fact in merged if fact.quantity or fact.money]


def day_moved_to(correction: Iterable[Fact]) -> date | None:
    """The day to which a correction moves its posting, if it does: out on one day, and in on another."""
    days: tuple[set[date], set[date]] = set(), set()
    for each in correction:
        if each.quantity:
            days[each.quantity > 0].add(each.day)
    out, into = days
    return min(into) if out and into and out.isdisjoint(into) else None


def _place_for(correction: Fact, facts: Sequence[Fact]) -> int:
    for place, fact in enumerate(facts):
        if fact.source == correction.destination:
            return place
    return len(facts)


def even_out(holdings: Sequence[tuple[int, int]]) -> list[int]:
    """New money for each (quantity, money), so that all of them have one unit cost; nothing where nothing is held."""
    quantities = [quantity for quantity, _money in holdings]
    if not any(quantities):
        return [0] * len(holdings)
    return allocate(sum(money for _quantity, money in holdings), quantities)


def _share(held: Sequence[int], taken: int) -> int:
    """The money that leaves with so much of a holding; more than it holds takes all of it."""
    quantity, money = held
    return cost_of_draw(quantity, money, taken) if 0 <= taken <= quantity else money
