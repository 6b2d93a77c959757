"""A second set of books, kept in plain Python, to hold the ledger against: no imports from the code under test.

It keeps what happened, chooses lots by itself, and works out what everything cost by living through it all again, with
exact fractions. Quantities are thousandths, money millionths.
"""

from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from fractions import Fraction
from itertools import groupby
from math import floor
from operator import itemgetter

Spot = tuple[str, int]
Amounts = tuple[int, int]
OUTSIDE: Spot = ("outside", 0)
GAIN: Spot = ("gain", 0)


@dataclass(frozen=True)
class PlainLot:
    number: int
    material: int
    received: date
    best_before: date | None = None


@dataclass(frozen=True)
class Move:
    """Something that happened. Money is known for what came from outside; the rest is worked out."""

    giver: Spot
    taker: Spot
    material: int
    quantity: int
    money: int | None = None


@dataclass
class Event:
    number: int
    on: date
    moves: list[Move] = field(default_factory=list)
    reverses: int | None = None
    corrections: dict[int, tuple[int, int, int]] = field(default_factory=dict)  # (lot, cost, quantity)
    days_before: dict[int, date] = field(default_factory=dict)  # by the correction that moved it


def half_up(amount: Fraction) -> int:
    """The nearest whole number, halves away from zero."""
    return floor(amount + Fraction(1, 2)) if amount >= 0 else -floor(-amount + Fraction(1, 2))


def shares_of(whole: int, weights: Sequence[int]) -> list[int]:
    """Largest remainder: everybody gets the whole part of the quota, the greatest remainders one more."""
    quotas = [Fraction(abs(whole) * weight, sum(weights)) for weight in weights]
    shares = [floor(quota) for quota in quotas]
    remainders = sorted(range(len(weights)), key=lambda place: (shares[place] - quotas[place], place))
    for place in remainders[: abs(whole) - sum(shares)]:
        shares[place] += 1
    return [amount if whole >= 0 else -amount for amount in shares]


@dataclass
class PlainBooks:
    """Every event in the order in which it was recorded."""

    average: bool
    by_expiry: bool = False
    lots: dict[int, PlainLot] = field(default_factory=dict)
    events: dict[int, Event] = field(default_factory=dict)
    moved: dict[int, Counter[date]] = field(default_factory=lambda: defaultdict(Counter))  # by lot and day
    is_corrected: bool = False  # whether anything ever was

    # What happened

    def move(
        self,
        number: int,
        giver: Spot,
        taker: Spot,
        material: int,
        quantity: int,
        money: int | None,
        *,
        on: date,
    ) -> None:
        event = self.events.setdefault(number, Event(number, on))
        event.moves.append(Move(giver, taker, material, quantity, money))
        self._count(giver, taker, quantity, on)

    def _count(self, giver: Spot, taker: Spot, quantity: int, on: date) -> None:
        for (kind, number), sign in ((giver, -1), (taker, 1)):
            if kind == "lot":
                self.moved[number][on] += sign * quantity

    def receive(
        self, number: int, lot: PlainLot, quantity: int, money: int | None, *, on: date, giver: Spot = OUTSIDE
    ) -> None:
        self.lots[lot.number] = lot
        self.move(number, giver, ("lot", lot.number), lot.material, quantity, money, on=on)

    def draw(
        self,
        number: int,
        material: int,
        quantity: int,
        taker: Spot,
        *,
        on: date,
        chosen: int | None = None,
        only: bool = False,
    ) -> None:
        """Take from the lots in drawing order what was there on the day. More than there was is an error here."""
        for lot in self._in_order(material, on, chosen, only):
            taken = min(self._there(lot.number, on), quantity)
            if taken > 0:
                self.move(number, ("lot", lot.number), taker, material, taken, None, on=on)
                quantity -= taken
        assert quantity == 0

    def correct(self, number: int, receipt: int, lot: int, difference: int, more: int = 0) -> None:
        """A lot cost more or less, or was more or less, than its receipt said."""
        self.is_corrected = True
        event = self.events[receipt]
        event.corrections[number] = lot, difference, more
        self.moved[lot][event.on] += more

    def put_right(self, number: int, moves: Sequence[Move]) -> None:
        """What happened was something else."""
        self.is_corrected = True
        event = self.events[number]
        for move in event.moves:
            self._count(move.giver, move.taker, -move.quantity, event.on)
        event.moves = list(moves)
        for move in moves:
            self._count(move.giver, move.taker, move.quantity, event.on)

    def redate(self, number: int, receipt: int, to: date) -> None:
        """What a receipt brought in came on another day, on which its lots take their turn."""
        self.is_corrected = True
        event = self.events[receipt]
        event.days_before[number] = event.on
        self._move_to(event, to)

    def _move_to(self, event: Event, to: date) -> None:
        came = [(move.taker[1], move.quantity) for move in event.moves]
        came += [(lot, more) for lot, _difference, more in event.corrections.values()]
        for lot, quantity in came:
            self.moved[lot][event.on] -= quantity
            self.moved[lot][to] += quantity
        event.on = to
        lots = {lot for lot, _quantity in came}
        while lots:
            for lot in lots:
                self.lots[lot] = replace(self.lots[lot], received=to)
            moves = [move for each in self.events.values() for move in each.moves if move.quantity > 0]
            lots = {
                move.taker[1]
                for move in moves
                if move.giver[0] == move.taker[0] == "lot" and move.giver[1] in lots
            }

    def reverse(self, number: int, original: int, on: date) -> None:
        for event in self.events.values():
            if day := event.days_before.pop(original, None):
                self._move_to(event, day)
                return
            if correction := event.corrections.pop(original, None):
                lot, _difference, more = correction
                self.moved[lot][event.on] -= more
                return
        moves = [replace(move, quantity=-move.quantity, money=None) for move in self.events[original].moves]
        self.events[number] = Event(number, on, moves, reverses=original)
        for move in moves:
            self._count(move.giver, move.taker, move.quantity, on)
        for lot, _difference, more in self.events[original].corrections.values():
            self.moved[lot][on] -= more

    def _in_order(self, material: int, on: date, chosen: int | None, only: bool) -> list[PlainLot]:
        return sorted(
            (
                lot
                for lot in self.lots.values()
                if lot.material == material and lot.received <= on and (lot.number == chosen or not only)
            ),
            key=lambda lot: (
                lot.number != chosen,
                (self.by_expiry and lot.best_before) or date.max,
                lot.received,
                lot.number,
            ),
        )

    def _there(self, lot: int, on: date) -> int:
        """What could be drawn on a day without taking what was drawn on a later one."""
        held, lowest = 0, None
        for day in sorted({*self.moved[lot], on}):
            held += self.moved[lot][day]
            if day >= on:
                lowest = held if lowest is None else min(lowest, held)
        return max(lowest or 0, 0)

    # What it cost

    def balances(self) -> dict[tuple[Spot, int], Amounts]:
        """Every place that holds something now."""
        ends = self.ends_of_days()
        return ends[-1][1] if ends else {}

    def ends_of_days(self) -> list[tuple[date, dict[tuple[Spot, int], Amounts]]]:
        """Every place that held something at the end of each day on which something happened."""
        sums: dict[tuple[Spot, int], Amounts] = {}
        ends = []
        for day, changes in groupby(sorted(Costing(self).live()), key=itemgetter(0)):
            for _on, spot, material, quantity, money in changes:
                before = sums.get((spot, material), (0, 0))
                sums[spot, material] = before[0] + quantity, before[1] + money
            sums = {key: amounts for key, amounts in sums.items() if any(amounts)}
            ends.append((day, {key: amounts for key, amounts in sums.items() if key[0][0] != "mix"}))
        return ends

    def held_on(self, day: date, lot: int) -> int:
        return sum(quantity for on, quantity in self.moved[lot].items() if on <= day)


Change = tuple[date, Spot, int, int, int]


class Costing:
    """One life of the books from beginning to end, in the order that the costing method looks at."""

    def __init__(self, books: PlainBooks) -> None:
        self.books = books
        self.held: dict[tuple[Spot, int], tuple[int, Fraction]] = defaultdict(lambda: (0, Fraction(0)))
        self.lived: dict[int, list[Move]] = {}
        self.changes: list[Change] = []
        self.in_cup: Counter[Spot] = Counter()

    def live(self) -> list[Change]:
        events = list(self.books.events.values())
        # By lot a draw takes its share of what is there, and keeps it to the millionth, until a correction has all of
        # it worked out anew.
        undone = {
            event.reverses: event.number
            for event in events
            if event.reverses is not None
            and self.books.events[event.reverses].on == event.on
            and (self.books.average or self.books.is_corrected)
        }
        never = {*undone, *undone.values()}
        events = [event for event in events if event.number not in never]
        for number in never:
            self._quantities_only(self.books.events[number])
        if self.books.average or self.books.is_corrected:
            events.sort(key=lambda event: (event.on, event.number))
        while events:
            event = events.pop(0)
            self._fill_before(events, event)
            self._happen(event)
        return self.changes

    def _fill_before(self, events: list[Event], event: Event) -> None:
        """What the event needs and the books were told of later comes first."""
        wanted: Counter[Spot] = Counter()
        for move in event.moves if event.reverses is None else ():
            if move.giver[0] == "lot":
                wanted[move.giver] += move.quantity
        own = {move.taker for move in event.moves}
        for spot, quantity in wanted.items() if event.reverses is None else ():
            if spot in own:
                continue
            for later in [each for each in events if each.reverses is None and each.on <= event.on]:
                if self._held_in(spot) >= quantity:
                    break
                if any(move.taker == spot and move.quantity > 0 for move in later.moves) and later in events:
                    events.remove(later)
                    self._fill_before(events, later)
                    self._happen(later)

    def _held_in(self, spot: Spot) -> int:
        return self.held[spot, self.books.lots[spot[1]].material][0]

    def _quantities_only(self, event: Event) -> None:
        for move in event.moves:
            self.changes.append((event.on, move.giver, move.material, -move.quantity, 0))
            self.changes.append((event.on, move.taker, move.material, move.quantity, 0))

    def _happen(self, event: Event) -> None:
        if event.reverses is None:
            moves = self._whole_pours(event.moves)
        else:
            moves = [
                replace(move, quantity=-move.quantity, money=-(move.money or 0))
                for move in self.lived[event.reverses]
            ]
        corrections = list(event.corrections.values())
        lived = self.lived[event.number] = []
        for place, move in enumerate(moves):
            cost = self._cost(move)
            self._change(event.on, move.giver, move.material, -move.quantity, -cost)
            self._change(event.on, move.taker, move.material, move.quantity, cost)
            for lot, difference, more in corrections if event.reverses is None else ():
                if move.taker == ("lot", lot) and all(move.taker != each.taker for each in moves[:place]):
                    self._change(event.on, OUTSIDE, move.material, -more, -difference)
                    self._change(event.on, move.taker, move.material, more, difference)
            lived.append(replace(move, money=cost))
        if event.reverses is not None:
            self._take_late_costs_back(event)
        if self.books.average:
            self._even(event)

    def _take_late_costs_back(self, event: Event) -> None:
        """A receipt that is reversed takes what was added to it along."""
        assert event.reverses is not None
        for lot, difference, more in self.books.events[event.reverses].corrections.values():
            material = self.books.lots[lot].material
            self._change(event.on, OUTSIDE, material, more, difference)
            self._change(event.on, ("lot", lot), material, -more, -difference)

    def _whole_pours(self, moves: Sequence[Move]) -> list[Move]:
        """What leaves a pour is all that is in it; several takers share what is new as they shared the rest."""
        givers = list(dict.fromkeys(move.giver for move in moves if move.giver[0] == "work"))
        whole = [move for move in moves if move.giver not in givers]
        for giver in givers:
            leaving = [move for move in moves if move.giver == giver]
            takers: Counter[Spot] = Counter()
            for move in leaving:
                takers[move.taker] += move.quantity
            for (spot, material), (quantity, money) in list(self.held.items()):
                if spot != giver or not (quantity or money):
                    continue
                told = [move for move in leaving if move.material == material]
                if sum(move.quantity for move in told) == quantity:
                    whole += told
                    continue
                parts = shares_of(quantity, list(takers.values())) if len(takers) > 1 else [quantity]
                whole += [
                    Move(giver, taker, material, part)
                    for taker, part in zip(takers, parts, strict=True)
                    if part or len(takers) == 1
                ]
        return whole

    def _cost(self, move: Move) -> int:
        if move.money is not None:
            return move.money
        if move.giver[0] == "mix":
            return self.in_cup.pop(move.giver, 0)
        quantity, money = self.held[move.giver, move.material]
        return int(money) if move.quantity >= quantity else half_up(money * move.quantity / quantity)

    def _change(self, on: date, spot: Spot, material: int, quantity: int, money: int) -> None:
        before = self.held[spot, material]
        self.held[spot, material] = before[0] + quantity, before[1] + money
        self.changes.append((on, spot, material, quantity, money))
        if spot[0] == "mix" and quantity > 0:
            self.in_cup[spot] += money

    def _even(self, event: Event) -> None:
        """One unit cost for all lots of a material, after something came in."""
        came = {move.material for move in event.moves if move.taker[0] == "lot" and move.quantity > 0}
        came |= {move.material for move in event.moves if move.giver[0] == "lot" and move.quantity < 0}
        for material in sorted(came):
            held = [(spot, of) for (spot, of), (quantity, _money) in self.held.items() if quantity > 0]
            spots = sorted(spot for spot, of in held if of == material and spot[0] == "lot")
            amounts = [self.held[spot, material] for spot in spots]
            if not spots:
                continue
            total = sum(int(money) for _quantity, money in amounts)
            even = shares_of(total, [quantity for quantity, _money in amounts])
            for spot, (_quantity, money), new in zip(spots, amounts, even, strict=True):
                self._change(event.on, spot, material, 0, new - int(money))
