"""A second set of books, kept in plain Python, to hold the ledger against: no imports from the code under test.

It draws, averages and mirrors by itself, with exact fractions. Quantities are thousandths, money millionths.
"""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date
from fractions import Fraction
from math import floor

Spot = tuple[str, int]
OUTSIDE: Spot = ("outside", 0)
GAIN: Spot = ("gain", 0)


@dataclass(frozen=True)
class PlainLot:
    number: int
    material: int
    received: date
    opened: date | None = None
    best_before: date | None = None


@dataclass(frozen=True)
class Move:
    giver: Spot
    taker: Spot
    material: int
    quantity: int
    money: int


def half_up(amount: Fraction) -> int:
    return floor(amount + Fraction(1, 2))


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
    """What every place holds of every material, and every move that brought it there."""

    average: bool
    lots: dict[int, PlainLot] = field(default_factory=dict)
    held: dict[tuple[Spot, int], tuple[int, int]] = field(default_factory=lambda: defaultdict(lambda: (0, 0)))
    journal: dict[int, list[Move]] = field(default_factory=lambda: defaultdict(list))

    def in_lot(self, lot: int) -> tuple[int, int]:
        return self.held[("lot", lot), self.lots[lot].material]

    def move(self, number: int, giver: Spot, taker: Spot, material: int, quantity: int, money: int) -> None:
        self.journal[number].append(Move(giver, taker, material, quantity, money))
        for spot, sign in ((giver, -1), (taker, 1)):
            before = self.held[spot, material]
            self.held[spot, material] = before[0] + sign * quantity, before[1] + sign * money

    def receive(self, number: int, lot: PlainLot, quantity: int, money: int, giver: Spot = OUTSIDE) -> None:
        self.lots[lot.number] = lot
        self.move(number, giver, ("lot", lot.number), lot.material, quantity, money)

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
    ) -> int:
        """Take from the lots in drawing order; return the money that left. More than there is is an error here."""
        cost = 0
        for lot in self._in_order(material, on, chosen, only):
            there, worth = self.in_lot(lot.number)
            taken = min(there, quantity)
            if not taken:
                continue
            money = worth if taken == there else half_up(Fraction(worth * taken, there))
            self.move(number, ("lot", lot.number), taker, material, taken, money)
            quantity, cost = quantity - taken, cost + money
        assert quantity == 0
        return cost

    def _in_order(self, material: int, on: date, chosen: int | None, only: bool) -> list[PlainLot]:
        return sorted(
            (
                lot
                for lot in self.lots.values()
                if lot.material == material and lot.received <= on and (lot.number == chosen or not only)
            ),
            key=lambda lot: (
                lot.number != chosen,
                lot.opened is None,
                lot.best_before or date.max,
                lot.received,
                lot.number,
            ),
        )

    def even(self, materials: Iterable[int]) -> None:
        """Weighted average: one unit cost for all lots of a material."""
        for material in materials if self.average else ():
            lots = [
                lot for lot in self.lots.values() if lot.material == material and any(self.in_lot(lot.number))
            ]
            lots.sort(key=lambda lot: (lot.received, lot.number))
            amounts = [self.in_lot(lot.number) for lot in lots]
            if lots:
                spread = shares_of(sum(money for _, money in amounts), [quantity for quantity, _ in amounts])
                for lot, (quantity, _), money in zip(lots, amounts, spread, strict=True):
                    self.held[("lot", lot.number), material] = quantity, money

    def mirrored(self, number: int) -> dict[tuple[Spot, int], tuple[int, int]]:
        """What every place touched by a posting would hold were it taken back."""
        after: dict[tuple[Spot, int], tuple[int, int]] = {}
        for move in self.journal[number]:
            for spot, sign in ((move.giver, 1), (move.taker, -1)):
                key = spot, move.material
                quantity, money = after.get(key, self.held[key])
                after[key] = quantity + sign * move.quantity, money + sign * move.money
        return after

    def reverse(self, number: int) -> None:
        self.held.update(self.mirrored(number))

    def balances(self) -> dict[tuple[Spot, int], tuple[int, int]]:
        """Every place that holds something."""
        return {key: amounts for key, amounts in self.held.items() if any(amounts) and key[0][0] != "mix"}
