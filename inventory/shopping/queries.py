"""The shopping list: what to buy now, from whom, and what for. The same few queries however much there is.

Plans, alerts and orders tell what to buy by this list alone. Costs are in each supplier's own currency unless they are
said to be at home; quantities are thousandths of the base unit.
"""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from functools import cached_property

from django.db.models import Q

from inventory.alerts.queries import alert_levels
from inventory.materials.models import Material, Supplier, Supply
from inventory.materials.queries import Buy, BuyLine
from inventory.plans.queries import Promises
from inventory.sessions.queries.planning import Answer
from inventory.shopping.calculations.cheapest import cheapest
from inventory.shopping.calculations.purchases import FORTNIGHT, Order, Question
from inventory.shopping.calculations.purchases import Answer as Purchases
from inventory.shopping.models import ShoppingEntry
from inventory.shopping.needs import NOTHING, Need, Needs
from inventory.shopping.prices import has_price_break, pack_price

SECONDS_FOR_OTHERS = 0.5  # what another choice would cost need not be proved to the last


@dataclass(frozen=True, slots=True)
class Packs:
    """So many packs, and what each of them costs."""

    supply: Supply
    count: int
    each: int

    @property
    def cost(self) -> int:
        return self.each * self.count

    @property
    def has_price_break(self) -> bool:
        return has_price_break(self.supply, self.count)


@dataclass(frozen=True, slots=True)
class Line:
    """One material to buy from one supplier."""

    need: Need
    supplier: Supplier
    packs: tuple[Packs, ...]

    @property
    def material(self) -> Material:
        return self.need.material

    @property
    def entry(self) -> ShoppingEntry | None:
        return self.need.entry

    @property
    def is_ticked(self) -> bool:
        return self.entry is not None and self.entry.is_ticked

    @property
    def is_along(self) -> bool:
        """Whether it is not needed yet, and is bought now because that is cheaper."""
        return not self.need.is_needed

    @property
    def quantity(self) -> int:
        return sum(each.supply.pack_size * each.count for each in self.packs)

    @property
    def cost(self) -> int:
        return sum(each.cost for each in self.packs)

    @property
    def buy(self) -> Buy:
        lines = tuple(BuyLine(each.supply, each.count) for each in self.packs)
        return Buy(self.material.pk, self.supplier, lines, self.quantity, self.cost)


@dataclass(frozen=True, slots=True)
class Part:
    """What to buy from one supplier at one time, and what it asks for the order."""

    supplier: Supplier
    lines: tuple[Line, ...]
    on: date
    has_rate: bool
    home_cost: int

    @property
    def goods(self) -> int:
        return sum(line.cost for line in self.lines)

    @property
    def is_carriage_free(self) -> bool:
        free_from = self.supplier.free_carriage_from
        return bool(self.supplier.carriage) and free_from is not None and self.goods >= free_from

    @property
    def carriage(self) -> int:
        return 0 if self.is_carriage_free else self.supplier.carriage

    @property
    def to_free_carriage(self) -> int | None:
        """What more of goods would be sent without carriage; None where it is free already, or never."""
        free_from = self.supplier.free_carriage_from
        return free_from - self.goods if free_from is not None and self.carriage else None

    @property
    def short_of_minimum(self) -> int:
        return max((self.supplier.minimum_order or 0) - self.goods, 0)

    @property
    def only_just_enough(self) -> bool:
        """Whether it would be less than the minimum order with one pack less."""
        cheapest_pack = min(packs.each for line in self.lines for packs in line.packs)
        return self.goods - cheapest_pack < (self.supplier.minimum_order or 0) <= self.goods

    @property
    def cost(self) -> int:
        return self.goods + self.carriage


@dataclass(frozen=True)
class ShoppingList:
    """Everything to buy now by supplier, what nobody sells, what was added in words, and what is best bought later."""

    needs: Needs
    question: Question
    purchases: Purchases
    parts: tuple[Part, ...]
    later: tuple[Part, ...]

    @property
    def unsold(self) -> list[Need]:
        return self.needs.unsold()

    @property
    def others(self) -> Sequence[ShoppingEntry]:
        return self.needs.others

    @property
    def lines(self) -> list[Line]:
        return [line for part in self.parts for line in part.lines]

    @property
    def is_empty(self) -> bool:
        return not (self.parts or self.unsold or self.others)

    @property
    def home_cost(self) -> int:
        """What all of it costs in the studio's currency; without what has no exchange rate."""
        return sum(part.home_cost for part in self.parts if part.has_rate)

    @cached_property
    def by_material(self) -> Mapping[int, list[Line]]:
        found: dict[int, list[Line]] = {}
        for line in self.lines:
            found.setdefault(line.material.pk, []).append(line)
        return found

    def buys(self, materials: Collection[int]) -> dict[int, list[Buy]]:
        """What to buy of each of these materials."""
        return {pk: [line.buy for line in self.by_material.get(pk, ())] for pk in materials}

    def dearer_elsewhere(self, part: Part) -> int | None:
        """By how much all would cost more if what others sell of a part were bought from them; None if nobody does."""
        instead = {}
        for line in part.lines:
            others = [
                self.needs.rates.offer_of(supply)
                for supply in self.needs.supplies[line.material.pk]
                if supply.supplier_id != part.supplier.pk and self.needs.rates.of(supply.supplier) is not None
            ]
            if others and not line.need.is_chosen:
                instead[line.material.pk] = others
        if not instead:
            return None
        other = cheapest(self.needs.question(instead=instead), seconds=SECONDS_FOR_OTHERS)
        return other.cost - self.purchases.cost


def shopping_list(
    on: date, *, besides: Mapping[int, int] = NOTHING, promises: Promises | None = None
) -> ShoppingList:
    """What to buy on a day. `besides` is what something that nobody has kept is short of.

    Who has read what is promised on the day hands it in.
    """
    needs = Needs.read(on, besides=besides, promises=promises)
    question = needs.question()
    purchases = cheapest(question)
    return ShoppingList(
        needs,
        question,
        purchases,
        tuple(_part(order, needs, on) for order in purchases.now),
        tuple(_part(order, needs, on) for order in purchases.later),
    )


def _part(order: Order, needs: Needs, on: date) -> Part:
    by_material: dict[int, list[Packs]] = {}
    for purchase in order.purchases:
        supply = next(each for each in needs.supplies[purchase.item] if each.pk == purchase.offer.supply)
        packs = Packs(supply, purchase.packs, pack_price(supply, purchase.packs))
        by_material.setdefault(purchase.item, []).append(packs)
    supplier = next(iter(by_material.values()))[0].supply.supplier
    lines = [Line(needs.needs[pk], supplier, tuple(packs)) for pk, packs in by_material.items()]
    return Part(
        supplier,
        tuple(sorted(lines, key=lambda line: (line.is_along, line.material.name.casefold()))),
        on + timedelta(days=FORTNIGHT * order.fortnight),
        needs.rates.of(supplier) is not None,
        order.cost,
    )


@dataclass(frozen=True, slots=True)
class Alternative:
    """A pack that could be bought of a material, how many of it, and by how much all would then cost more at home."""

    supply: Supply
    packs: int
    each: int
    dearer_by: int | None
    is_chosen: bool

    @property
    def cost(self) -> int:
        return self.each * self.packs


def alternatives(listed: ShoppingList, material: int) -> list[Alternative]:
    """Every pack of a material that is on the list, what is cheapest first."""
    needs = listed.needs
    weighed = [needs.rates.offer_of(supply) for supply in needs.weighed(material)]
    best = cheapest(needs.question(instead={material: weighed}))
    bought = [each for each in listed.by_material.get(material, ()) if each.need.is_chosen]
    chosen = {packs.supply.pk for line in bought for packs in line.packs}
    found = []
    for supply in needs.supplies.get(material, ()):
        question = needs.question(instead={material: [needs.rates.offer_of(supply)]})
        other = cheapest(question, seconds=SECONDS_FOR_OTHERS)
        packs = sum(each.packs for order in other.now for each in order.purchases if each.item == material)
        packs = packs or supply.minimum_packs
        dearer = other.cost - best.cost if needs.rates.of(supply.supplier) is not None else None
        found.append(Alternative(supply, packs, pack_price(supply, packs), dearer, supply.pk in chosen))
    return sorted(found, key=lambda each: (each.dearer_by is None, each.dearer_by or 0))


def with_what_to_buy(
    answer: Answer, today: date, *, is_kept: bool, promises: Promises | None = None
) -> Answer:
    """The answer to a set with the packs to buy of what it is short of, as they stand on the shopping list.

    The list knows what plans that are kept are short of; of any other set it is told.
    """
    missing = {
        need.material.pk: need.short - need.too_late for need in answer.needs if need.short > need.too_late
    }
    if not missing:
        return answer
    listed = shopping_list(today, besides=NOTHING if is_kept else missing, promises=promises)
    buys = listed.buys(missing)
    unsold = {need.material.pk for need in listed.unsold}
    return replace(
        answer,
        buy=tuple(buy for bought in buys.values() for buy in bought),
        nobody_sells=tuple(
            need.material for need in answer.needs if need.material.pk in unsold & missing.keys()
        ),
    )


def how_many_to_buy(on: date) -> int:
    """How many things stand on the list because they are needed, for the front page."""
    low = Material.objects.filter(pk__in=alert_levels())
    mixed = Q(recipe__isnull=False, supplies__isnull=True)  # made here, sold by nobody
    needed = set(low.exclude(mixed).values_list("pk", flat=True))
    entries = ShoppingEntry.objects.filter(ticked_at__isnull=True)
    ticked = set(
        ShoppingEntry.objects.filter(ticked_at__isnull=False, material__isnull=False).values_list(
            "material", flat=True
        )
    )
    needed |= Promises(on).to_buy().keys()
    texts = 0
    for material, text in entries.values_list("material", "text"):
        if text:
            texts += 1
        else:
            needed.add(material)
    return len(needed - ticked) + texts
