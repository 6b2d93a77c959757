"""The cheapest way to buy everything that is needed: the programme of `purchases.py`, built and solved."""

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from math import ceil, floor, inf

from inventory.materials.packs import Offer as Pack
from inventory.materials.packs import cheapest_packs
from inventory.shopping.calculations.purchases import (
    MAKING_UP,
    Answer,
    Counts,
    Item,
    Offer,
    Price,
    Question,
    answer_from,
    keeps_to,
)
from studio.values.programmes import Programme, Row, solve

SECONDS = 2.0
GAP = 0.001  # a tenth of a percent of what is paid
MONEY, QUANTITY = (
    1e6,
    1e3,
)  # to units of the currency and base units, so that the solver's figures are alike in size
KEPT = 256  # answers kept in memory: the same question is asked by several pages, and while nothing changes


@lru_cache(maxsize=KEPT)
def cheapest(question: Question, *, seconds: float = SECONDS, gap: float = GAP) -> Answer:
    """The orders that cost least together; good ones where the time is up first.

    Everything is offered by somebody. Each item that is bought `exactly` so is bought so, whatever it costs.
    """
    question = _without_covered(question)
    if not question.items:
        return answer_from(question, {})
    built = _Built(question)
    solution = solve(built.programme(), seconds=seconds, gap=gap)
    counts = built.counts(solution.columns)
    if not solution.columns or not keeps_to(question, counts):
        counts = each_by_itself(question)
        return answer_from(question, counts, is_proven=False)
    answer = answer_from(question, counts)
    alone = each_by_itself(question)
    if keeps_to(question, alone) and answer_from(question, alone).weighed < answer.weighed:
        return answer_from(
            question, alone, is_proven=False
        )  # the time was up before anything as good was found
    is_proven = float(answer.weighed) / MONEY <= solution.bound + gap * abs(solution.bound) + 0.01
    return answer_from(question, counts, is_proven=is_proven)


def _without_covered(question: Question) -> Question:
    items = tuple(item for item in question.items if not item.is_covered(question.fortnights))
    return Question(items, question.terms, question.fortnights)


@dataclass(frozen=True, slots=True)
class _Packs:
    """The column of so many packs at one price in one fortnight."""

    item: Item
    offer: Offer
    price: Price
    fortnight: int
    column: int


@dataclass(slots=True)
class _Built:
    """Columns and rows, put together order by order."""

    question: Question
    cost: list[float] = field(default_factory=list)
    lower: list[float] = field(default_factory=list)
    upper: list[float] = field(default_factory=list)
    whole: list[bool] = field(default_factory=list)
    rows: list[Row] = field(default_factory=list)
    packs: list[_Packs] = field(default_factory=list)

    def programme(self) -> Programme:
        suppliers = sorted({offer.supplier for item in self.question.items for offer in item.offers})
        for supplier in suppliers:
            for fortnight in range(self.question.fortnights):
                self._order(supplier, fortnight)
        for item in self.question.items:
            self._levels(item)
        return Programme(self.cost, self.lower, self.upper, self.whole, self.rows)

    def counts(self, columns: Sequence[float]) -> Counts:
        """How many packs a solution buys."""
        if not columns:
            return {}
        counts: dict[tuple[int, Offer, int], int] = defaultdict(int)
        for each in self.packs:
            counts[each.item.key, each.offer, each.fortnight] += round(columns[each.column])
        return {place: packs for place, packs in counts.items() if packs}

    def _column(self, cost: float, most: float, *, least: float = 0.0, is_whole: bool = True) -> int:
        self.cost.append(cost)
        self.lower.append(least)
        self.upper.append(most)
        self.whole.append(is_whole)
        return len(self.cost) - 1

    def _order(self, supplier: int, fortnight: int) -> None:
        """Everything that could be bought from a supplier in a fortnight; carriage if anything is."""
        terms = self.question.terms_of(supplier)
        is_placed = None
        if terms.carriage or terms.minimum:
            is_placed = self._column(terms.carriage / MONEY, 1.0)
        mine = [
            packs
            for item in self.question.items
            for offer in item.offers
            if offer.supplier == supplier
            for packs in self._offer(item, offer, fortnight, is_placed)
        ]
        goods = {packs.column: packs.price.each / MONEY for packs in mine}
        if is_placed is None:
            return
        if terms.free_from is not None and terms.carriage:
            is_free = self._column(-terms.carriage / MONEY, 1.0)
            self.rows.append(({is_free: 1.0, is_placed: -1.0}, -inf, 0.0))
            self.rows.append(({**goods, is_free: -terms.free_from / MONEY}, 0.0, inf))
        if terms.minimum:
            made_up = self._column(float(MAKING_UP), inf, is_whole=False)
            self.rows.append(({**goods, made_up: 1.0, is_placed: -terms.minimum / MONEY}, 0.0, inf))

    def _offer(self, item: Item, offer: Offer, fortnight: int, is_placed: int | None) -> Iterator[_Packs]:
        chosen: dict[int, float] = {}
        for price in _prices(offer, fortnight):
            most = self._most_packs(item, offer, price)
            cost = price.each + float(self.question.hold_cost(item, offer, fortnight))
            exactly = offer.exactly if offer.exactly is not None and not fortnight else 0
            column = self._column(cost / MONEY, float(most), least=float(exactly))
            self.packs.append(_Packs(item, offer, price, fortnight, column))
            yield self.packs[-1]
            if len(offer.prices) > 1 or price.least_packs > 1:
                at_all = self._column(0.0, 1.0)
                self.rows.append(({column: 1.0, at_all: -float(most)}, -inf, 0.0))
                self.rows.append(({column: 1.0, at_all: -float(price.least_packs)}, 0.0, inf))
                chosen[at_all] = 1.0
            elif is_placed is not None:
                self.rows.append(({column: 1.0, is_placed: -float(most)}, -inf, 0.0))
        if chosen and is_placed is not None:
            self.rows.append(({**chosen, is_placed: -1.0}, -inf, 0.0))
        elif len(chosen) > 1:
            self.rows.append((chosen, -inf, 1.0))

    def _most_packs(self, item: Item, offer: Offer, price: Price) -> int:
        """More than this is never worth buying at once: what is needed, reaches a minimum and saves carriage."""
        if offer.exactly is not None:
            return offer.exactly
        last, terms = self.question.fortnights - 1, self.question.terms_of(offer.supplier)
        needed = max((item.least_at(last) or 0) - item.position, 0)
        most = ceil(needed / offer.size)
        saved = terms.minimum + (terms.carriage if terms.free_from is not None else 0)
        if saved and price.each:
            most += ceil(saved / price.each)
        room = item.most_at(last)
        if room is not None:
            most = min(most, floor((room - item.position) / offer.size))
        return min(max(most, price.least_packs), price.most_packs)

    def _levels(self, item: Item) -> None:
        bought: dict[int, float] = {}
        for fortnight in range(self.question.fortnights):
            bought |= {
                each.column: each.offer.size / QUANTITY
                for each in self.packs
                if each.item is item and each.fortnight == fortnight
            }
            least, most = item.least_at(fortnight), item.most_at(fortnight)
            if least is None and most is None:
                continue
            self.rows.append(
                (
                    dict(bought),
                    -inf if least is None else (least - item.position) / QUANTITY,
                    inf if most is None else (most - item.position) / QUANTITY,
                )
            )


def _prices(offer: Offer, fortnight: int) -> tuple[Price, ...]:
    """The prices that count: what is bought exactly so has its own, and is bought now only."""
    if offer.exactly is None:
        return offer.prices
    return () if fortnight else (Price(offer.price_of(offer.exactly).each),)


def each_by_itself(question: Question) -> Counts:
    """What is needed until the end bought now, each from whoever asks least for it by itself: when time runs short."""
    counts: dict[tuple[int, Offer, int], int] = {}
    for item in question.items:
        exact = [offer for offer in item.offers if offer.exactly is not None]
        if exact:
            counts[item.key, exact[0], 0] = exact[0].exactly or 0
            continue
        needed = ceil(max((item.least_at(question.fortnights - 1) or 0) - item.position, 0))
        by_supplier: dict[int, list[Offer]] = defaultdict(list)
        for offer in item.offers:
            by_supplier[offer.supplier].append(offer)
        purchases = [
            cheapest_packs(
                needed,
                [
                    Pack(offer.supply, offer.size, offer.prices[0].each, offer.prices[0].least_packs)
                    for offer in offers
                ],
            )
            for offers in by_supplier.values()
        ]
        best = min(purchases, key=lambda purchase: purchase.cost)
        by_supply = {offer.supply: offer for offer in item.offers}
        for line in best.lines:
            counts[item.key, by_supply[line.offer.supply], 0] = line.packs
    return counts
