"""What to buy of everything that is needed, from whom and when, for the least money together.

A whole-number programme over three fortnights: packs now and later, one carriage an order, free from a sum; prices by
the number of packs; minimum packs and minimum orders; no more than keeps or can be stored. What a pack costs counts
with what it costs to hold it until the end. The stock at which to order is kept at every fortnight.

Quantities are thousandths of the base unit, money millionths of the studio's currency.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property

from inventory.shopping.calculations.order_quantity import DAYS_A_YEAR, HOLDING_A_YEAR

FORTNIGHT = 14
FORTNIGHTS = 3
MOST_PACKS = 9_999


@dataclass(frozen=True, slots=True)
class Price:
    """The price of each pack when at least so many, and no more than so many, are bought at once."""

    each: int
    least_packs: int = 1
    most_packs: int = MOST_PACKS


@dataclass(frozen=True, slots=True)
class Offer:
    """One pack of one material as a supplier sells it: its prices by how many are bought, the fewest packs first.

    `exactly` is how many are to be bought now and none later, where she has chosen so.
    """

    supply: int
    supplier: int
    size: int
    prices: tuple[Price, ...]
    exactly: int | None = None

    @property
    def lowest_price(self) -> int:
        return min(price.each for price in self.prices)

    @property
    def least_packs(self) -> int:
        return self.exactly or self.prices[0].least_packs

    def price_of(self, packs: int) -> Price:
        """The price when so many are bought at once."""
        return next(price for price in reversed(self.prices) if price.least_packs <= packs)


@dataclass(frozen=True, slots=True)
class Item:
    """One material: what there is of it, what there must be, and in which packs it is sold.

    `position` is stock and what is on order less what is reserved; `now` what it must come to by what is bought now,
    None where nothing is needed now; `level` the stock at which to order, kept until the end; `cap` the most that it
    should come to. `to_hold` is the cost of holding a thousandth of the base unit for a fortnight.
    """

    key: int
    position: int
    offers: tuple[Offer, ...]
    now: int | None = None
    level: int | None = None
    a_day: float = 0.0
    cap: int | None = None
    to_hold: float = 0.0

    def least_at(self, fortnight: int) -> float | None:
        """What position and purchases up to a fortnight must come to."""
        wanted: list[float] = [self.now] if self.now is not None else []
        if self.level is not None:
            wanted.append(self.level + self.used_by(fortnight) if fortnight else self.level)
        return max(wanted) if wanted else None

    def most_at(self, fortnight: int) -> float | None:
        """What they should not exceed; but the smallest purchase that covers what is needed must fit."""
        if self.cap is None:
            return None
        smallest = min(offer.size * offer.least_packs for offer in self.offers)
        needed = max(self.least_at(fortnight) or 0, self.position)
        return max(self.cap + self.used_by(fortnight), needed + smallest)

    def used_by(self, fortnight: int) -> float:
        return self.a_day * FORTNIGHT * fortnight

    def is_covered(self, fortnights: int) -> bool:
        """Whether nothing has to be bought of it in so many fortnights: the last asks for most."""
        least = self.least_at(fortnights - 1)
        return not any(offer.exactly for offer in self.offers) and (least is None or self.position >= least)


@dataclass(frozen=True, slots=True)
class Terms:
    """What a supplier asks for an order: carriage, none from a sum of goods on, and a minimum of goods."""

    supplier: int
    carriage: int = 0
    free_from: int | None = None
    minimum: int = 0


@dataclass(frozen=True, slots=True)
class Question:
    """Everything that is weighed together. `fortnights` is how far it looks ahead."""

    items: tuple[Item, ...]
    terms: tuple[Terms, ...]
    fortnights: int = FORTNIGHTS

    def terms_of(self, supplier: int) -> Terms:
        return next((each for each in self.terms if each.supplier == supplier), Terms(supplier))

    def hold_cost(self, item: Item, offer: Offer, fortnight: int) -> Fraction:
        """What holding a pack from a fortnight to the end costs."""
        return Fraction(item.to_hold) * offer.size * (self.fortnights - fortnight)


@dataclass(frozen=True, slots=True)
class Purchase:
    """So many packs of an offer to be bought in a fortnight; the first is now."""

    item: int
    offer: Offer
    packs: int
    fortnight: int

    @property
    def quantity(self) -> int:
        return self.offer.size * self.packs

    @property
    def price(self) -> Price:
        return self.offer.price_of(self.packs)

    @property
    def cost(self) -> int:
        return self.price.each * self.packs


@dataclass(frozen=True)
class Order:
    """What is bought from one supplier in one fortnight, and what is paid for it."""

    terms: Terms
    fortnight: int
    purchases: tuple[Purchase, ...]

    @cached_property
    def goods(self) -> int:
        return sum(each.cost for each in self.purchases)

    @property
    def is_carriage_free(self) -> bool:
        return self.terms.free_from is not None and self.goods >= self.terms.free_from

    @property
    def carriage(self) -> int:
        return 0 if self.is_carriage_free else self.terms.carriage

    @property
    def short_of_minimum(self) -> int:
        return max(self.terms.minimum - self.goods, 0)

    @property
    def cost(self) -> int:
        return self.goods + self.carriage


@dataclass(frozen=True)
class Answer:
    """The orders that cost least together. `is_proven`: nothing else is cheaper by more than the gap.

    `cost` is what is paid until the end, `weighed` the same with holding it: what was made least.
    """

    orders: tuple[Order, ...]
    weighed: Fraction
    is_proven: bool

    @property
    def cost(self) -> int:
        return sum(order.cost for order in self.orders)

    @property
    def now(self) -> tuple[Order, ...]:
        return tuple(order for order in self.orders if not order.fortnight)

    @property
    def later(self) -> tuple[Order, ...]:
        return tuple(order for order in self.orders if order.fortnight)


Counts = Mapping[tuple[int, Offer, int], int]  # packs by item, offer and fortnight

# An order below the supplier's minimum is not sent. What it lacks counts so many times over, so that it is made up with
# what will be needed anyway, or placed elsewhere; where there is no room for more it stays short (own choice).
MAKING_UP = 3


def answer_from(question: Question, counts: Counts, *, is_proven: bool = True) -> Answer:
    """What so many packs come to, in exact figures."""
    by_order: dict[tuple[int, int], list[Purchase]] = {}
    held = Fraction(0)
    items = {item.key: item for item in question.items}
    for (key, offer, fortnight), packs in counts.items():
        if packs:
            purchase = Purchase(key, offer, packs, fortnight)
            by_order.setdefault((fortnight, offer.supplier), []).append(purchase)
            held += question.hold_cost(items[key], offer, fortnight) * packs
    orders = tuple(
        Order(question.terms_of(supplier), fortnight, tuple(purchases))
        for (fortnight, supplier), purchases in sorted(by_order.items())
    )
    weighed = held + sum(order.cost + MAKING_UP * order.short_of_minimum for order in orders)
    return Answer(orders, weighed, is_proven)


def keeps_to(question: Question, counts: Counts) -> bool:
    """Whether so many packs cover what is needed, and no more than can be kept."""
    return all(_item_keeps(question, item, counts) for item in question.items)


def _item_keeps(question: Question, item: Item, counts: Counts) -> bool:
    bought = 0
    for fortnight in range(question.fortnights):
        now = _bought(item, counts, fortnight)
        if now is None:
            return False
        bought += now
        reached, least, most = item.position + bought, item.least_at(fortnight), item.most_at(fortnight)
        if (least is not None and reached < least) or (most is not None and reached > most):
            return False
    return True


def _bought(item: Item, counts: Counts, fortnight: int) -> int | None:
    """What is bought of an item in a fortnight; None where a supplier would not send that."""
    bought = 0
    for offer in item.offers:
        packs = counts.get((item.key, offer, fortnight), 0)
        if offer.exactly is not None and packs != (0 if fortnight else offer.exactly):
            return None
        if packs and packs < offer.least_packs:
            return None
        bought += packs * offer.size
    return bought


def holding_cost(price: int, size: int) -> float:
    """Of a thousandth of the base unit for a fortnight, by the price of a pack."""
    return HOLDING_A_YEAR * price / size * FORTNIGHT / DAYS_A_YEAR
