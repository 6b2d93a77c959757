"""What is needed of every material, and by whom it is sold: the question that the shopping list answers.

Quantities are thousandths of the base unit, money millionths of the studio's currency.
"""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from math import ceil

from django.db.models import prefetch_related_objects

from inventory.materials.models import Material, Supply
from inventory.materials.queries import supplies_of
from inventory.plans.models import Plan
from inventory.plans.queries import Promises
from inventory.recipes.models import Recipe
from inventory.reordering.queries import Level, levels
from inventory.shopping.calculations.order_quantity import DAYS_A_YEAR, economic_packs_at, most_to_hold
from inventory.shopping.calculations.purchases import Item, Offer, Question, holding_cost
from inventory.shopping.models import ShoppingEntry
from inventory.shopping.prices import Rates
from studio.preferences.models import Studio

# Ordering brings a month's use at least on top of the level, so that the next order is not due tomorrow.
DAYS_ORDERED_FOR = 30
NOTHING: Mapping[int, int] = {}


@dataclass(frozen=True, slots=True)
class Need:
    """Why a material is on the list: it is low, short for plans, or was added; nothing of it is for what comes along.

    `missing` is what plans are short of, `added` what was added by hand, on top of the rest.
    """

    material: Material
    level: Level | None = None
    missing: int = 0
    plans: Sequence[Plan] = ()
    added: int = 0
    entry: ShoppingEntry | None = None

    @property
    def is_low(self) -> bool:
        return self.level is not None and self.level.is_low

    @property
    def is_needed(self) -> bool:
        return self.is_low or self.missing > 0 or self.is_added

    @property
    def is_added(self) -> bool:
        return self.added > 0 or self.is_chosen

    @property
    def is_chosen(self) -> bool:
        """Whether somebody chose the pack."""
        return self.entry is not None and self.entry.supply_id is not None

    @property
    def position(self) -> int:
        return self.level.position if self.level else 0

    @property
    def a_day(self) -> float:
        return self.level.use.per_day if self.level and self.level.use else 0.0

    @property
    def usual_days(self) -> float:
        return self.level.lead.mean if self.level and self.level.lead else 0.0


@dataclass(frozen=True)
class Needs:
    """What every material that is bought is needed for, and everything that packs of it cost, read once."""

    on: date
    needs: Mapping[int, Need]
    supplies: Mapping[int, list[Supply]]
    rates: Rates
    others: Sequence[ShoppingEntry] = ()  # in a few words, of no material
    _sharing: Counter[int] = field(default_factory=Counter)

    @classmethod
    def read(
        cls, on: date, *, besides: Mapping[int, int] = NOTHING, promises: Promises | None = None
    ) -> "Needs":
        """`besides` is what something that nobody has kept is short of, on top of what open plans are."""
        promises = promises or Promises(on)
        short = promises.to_buy()
        entries = list(ShoppingEntry.objects.select_related("material"))
        by_material = {entry.material_id: entry for entry in entries if entry.material_id is not None}
        now = {level.material.pk: level for level in levels(on, promises=promises)}
        unread = {*short, *by_material, *besides} - now.keys()
        materials = {
            **{pk: level.material for pk, level in now.items()},
            **(Material.objects.in_bulk(unread) if unread else {}),
        }
        needs = {}
        for pk, material in materials.items():
            entry, shortage = by_material.get(pk), short.get(pk)
            needs[pk] = Need(
                material,
                now.get(pk),
                missing=(shortage.quantity if shortage else 0) + besides.get(pk, 0),
                plans=shortage.plans if shortage else (),
                added=entry.quantity or 0 if entry else 0,
                entry=entry,
            )
        return cls._with_supplies(on, needs, [entry for entry in entries if entry.material_id is None])

    @classmethod
    def _with_supplies(cls, on: date, needs: dict[int, Need], others: list[ShoppingEntry]) -> "Needs":
        supplies = supplies_of()
        every = [supply for sold in supplies.values() for supply in sold]
        prefetch_related_objects(every, "price_breaks")
        rates = Rates(Studio.current().currency, {supply.supplier.currency for supply in every})
        sharing = Counter(
            supplier
            for pk, need in needs.items()
            if need.a_day
            for supplier in {supply.supplier_id for supply in supplies.get(pk, ())}
        )
        made = set(Recipe.objects.values_list("makes_id", flat=True))
        # What is made here and sold by nobody is mixed, not bought.
        bought = {pk: need for pk, need in needs.items() if pk not in made or supplies.get(pk)}
        return cls(on, bought, supplies, rates, others, sharing)

    def unsold(self) -> list[Need]:
        """What is needed and nobody is listed as selling."""
        return [need for pk, need in self.needs.items() if need.is_needed and not self.supplies.get(pk)]

    def weighed(self, pk: int) -> list[Supply]:
        """The packs that are weighed against each other: the preferred supplier's, where there is one.

        Prices without an exchange rate cannot be compared, so they count only where there is nothing else.
        """
        sold = self.supplies.get(pk, [])
        preferred = {supply.supplier_id for supply in sold if supply.is_preferred}
        sold = [supply for supply in sold if not preferred or supply.supplier_id in preferred]
        known = [supply for supply in sold if self.rates.of(supply.supplier) is not None]
        return known or [supply for supply in sold if supply.supplier_id == sold[0].supplier_id]

    def question(self, *, instead: Mapping[int, Sequence[Offer]] | None = None) -> Question:
        """Everything that is sold, as it is weighed together. `instead` are other offers of some materials."""
        items, sellers = [], {}
        for pk, need in sorted(self.needs.items()):
            sold = self.supplies.get(pk)
            if not sold:
                continue
            offers = (instead or {}).get(pk) or self._offers(need)
            items.append(self._item(need, tuple(offers)))
            sellers.update({supply.supplier_id: supply.supplier for supply in sold})
        used = {offer.supplier for item in items for offer in item.offers}
        return Question(tuple(items), self.rates.terms_of(sellers[supplier] for supplier in sorted(used)))

    def _offers(self, need: Need) -> list[Offer]:
        entry = need.entry
        if entry is not None and entry.supply_id is not None:
            chosen = next(
                supply for supply in self.supplies[need.material.pk] if supply.pk == entry.supply_id
            )
            return [self.rates.offer_of(chosen, exactly=entry.packs)]
        return [self.rates.offer_of(supply) for supply in self.weighed(need.material.pk)]

    def _item(self, need: Need, offers: tuple[Offer, ...]) -> Item:
        pk, position = need.material.pk, need.position
        if any(offer.exactly is not None for offer in offers):
            return Item(pk, position, offers)
        cheapest = min(offers, key=lambda offer: offer.lowest_price / offer.size)
        to_hold = holding_cost(cheapest.lowest_price, cheapest.size)
        cap = most_to_hold(
            a_day=need.a_day,
            usual_days=need.usual_days,
            keeps_days=need.material.keeps_days,
            storage_limit=need.material.storage_limit,
        )
        return Item(
            pk,
            position,
            offers,
            now=self._wanted(need, offers, cap),
            level=need.level.level if need.level else None,
            a_day=need.a_day,
            cap=cap,
            to_hold=to_hold,
        )

    def _wanted(self, need: Need, offers: Sequence[Offer], cap: int | None) -> int | None:
        """What the position must come to by what is bought now."""
        if not need.is_needed:
            return None
        reach = need.position + need.missing
        if need.level is not None and need.level.level is not None and need.is_low:
            level = need.level.level
            wanted = level + self._order_quantity(need, offers)
            if cap is not None:  # as many packs as fit under it
                wanted = min(wanted, cap - min(offer.size * offer.least_packs for offer in offers) + 1)
            reach = max(reach, level + 1, wanted)
        return reach + need.added

    def _order_quantity(self, need: Need, offers: Sequence[Offer]) -> int:
        """What to order on top of the level: a month's use, or the economic quantity where that is more.

        Where no use is known, as much as the level of the owner's own.
        """
        if not need.a_day:
            return need.level.level or 1 if need.level else 1
        pack, packs = self.economic(need, offers)
        return max(ceil(need.a_day * DAYS_ORDERED_FOR), pack.size * packs)

    def economic(self, need: Need, offers: Sequence[Offer]) -> tuple[Offer, int]:
        """The cheapest pack by unit, and how many of it cost least over a year.

        A material bears its share of an order's carriage: one among all that this supplier sells and that are used.
        """
        pack = min(offers, key=lambda offer: (offer.lowest_price / offer.size, offer.size))
        sold = next(supply for supply in self.supplies[need.material.pk] if supply.pk == pack.supply)
        carriage = self.rates.at_home(sold.supplier.carriage, sold.supplier)
        packs = economic_packs_at(
            [(price.least_packs, price.each) for price in pack.prices],
            an_order=carriage / max(self._sharing[pack.supplier], 1),
            a_year=need.a_day * DAYS_A_YEAR,
            pack=pack.size,
        )
        return pack, packs
