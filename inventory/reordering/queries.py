"""When to order what: a level for every material, and where it comes from.

Quantities are thousandths of the base unit. The statistics are in calculations, what the ledger says is in history.py;
this module brings them together, in the same few queries however many materials there are.
"""

from collections import Counter, defaultdict
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from math import ceil, floor

from django.db.models import Q

from inventory.materials.models import Material, Supplier, Supply
from inventory.materials.queries import supplies_of
from inventory.plans.queries import Promises
from inventory.reordering import keeping
from inventory.reordering.calculations import stock_cover
from inventory.reordering.calculations.demand import NO_HISTORY, Series
from inventory.reordering.calculations.lead_times import LeadTime
from inventory.reordering.calculations.levels import PastUse, UseUntilDelivery, past_use
from inventory.reordering.history import LeadTimes, daily_use
from inventory.reordering.reasons import reason_for
from inventory.stock.queries import LISTED_AT_MOST, usable_and_expired
from studio.preferences.formatting import Formatter
from studio.preferences.models import Studio
from studio.values.allocation import MILLION
from studio.values.units import Measure

DAYS_GUESSED_FOR = 30
NO_USE = PastUse(None, 0, is_recent=False)


@dataclass(frozen=True, slots=True)
class Level:
    """Where a material stands against the stock at which to order it.

    `level` is None for what was not used lately, or has been here too short a time, and has no level of its own;
    `reason` then says which. `calculated` is what use alone makes of it for the service `asked`, beside a level of
    the owner's own. `reserved` is what open plans take, `due` the part of it that they take before a delivery ordered
    today could be relied on: that much of the stock is spoken for. Words and shares are worked out when they are asked
    for: most readings of all levels need those of the few that are low.
    """

    material: Material
    stock: int
    on_order: int
    reserved: int
    due: int
    level: int | None
    calculated: int | None
    asked: float
    run_out_on: date | None
    past: PastUse
    lead: LeadTime
    own_deliveries: int
    is_lead_assumed: bool  # no supplier says how long it takes, and nothing was delivered yet
    formatter: Formatter

    @property
    def use(self) -> UseUntilDelivery | None:
        return self.past.until_delivery

    @property
    def is_low(self) -> bool:
        return self.level is not None and self.position <= self.level

    @property
    def service(self) -> float | None:
        """The share of deliveries that come in time with this level; None where use says nothing of it."""
        return self.use.service(self.level) if self.use and self.level is not None else None

    @property
    def reason(self) -> str:
        """Where the level comes from, or why there is none, for somebody who paints."""
        return reason_for(self, self.past, self.asked, self.formatter)

    @property
    def position(self) -> int:
        """What the level is held against: usable stock and what is on order, less what is reserved until a delivery."""
        return self.stock + self.on_order - self.due

    @property
    def service_percent(self) -> int | None:
        """The share of deliveries that come in time, in whole percent, rounded down: nothing is certain."""
        return None if self.service is None else floor(100 * self.service)

    @property
    def per_day(self) -> int | None:
        """Use of a day, rounded."""
        return round(self.use.per_day) if self.use else None

    @property
    def usual_lead_days(self) -> int:
        return round(self.lead.mean)

    @property
    def longest_lead_days(self) -> int:
        return self.lead.longest


def levels(
    on: date,
    *,
    materials: Collection[int] | None = None,
    studio: Studio | None = None,
    promises: Promises | None = None,
    keep: bool = False,
) -> list[Level]:
    """The level of every material that is bought, and of those made here that have a level of their own, by name.

    Who has read the studio, and what is promised on the day, hands them in. `keep` writes down what past use came to,
    for later readings of the day: inside a transaction that holds the ledger's lock.
    """
    chosen = Material.objects.filter(is_archived=False, is_free=False).select_related("kept_use")
    if materials is not None:
        chosen = chosen.filter(pk__in=materials)
    is_bought = Q(recipe__isnull=True)
    rows = chosen.filter(is_bought | Q(reorder_level__isnull=False)).annotate(is_bought=is_bought)
    if not (wanted := {row.pk: row for row in rows}):
        return []
    keys = None if materials is None else list(wanted)
    shelf = _Shelf.of(on, keys, studio or Studio.current(), promises)
    past = _past_use([row for row in wanted.values() if row.is_bought], shelf, keep=keep)
    return [_level(row, past.get(pk), shelf) for pk, row in wanted.items()]


def _past_use(bought: Collection[Material], shelf: "_Shelf", *, keep: bool) -> dict[int, PastUse]:
    """What use to the end of the day before says of materials that are bought: as it was kept, or worked out anew."""
    day = shelf.on - timedelta(days=1)
    stamps = {each.pk: keeping.fingerprint(shelf.lead(each), each.guessed_use) for each in bought}
    kept = {each.pk: keeping.kept_use(each, day=day, stamp=stamps[each.pk]) for each in bought}
    past = {pk: use for pk, use in kept.items() if use is not None}
    anew = {each.pk: each for each in bought if each.pk not in past}
    if not anew:
        return past
    for pk, series in daily_use(day, list(anew) if len(anew) <= LISTED_AT_MOST else None, stock=shelf.held):
        if pk in anew:
            past[pk] = _worked_out(anew[pk], series, shelf)
    for pk in anew.keys() - past.keys():
        past[pk] = _worked_out(anew[pk], NO_HISTORY, shelf)
    if keep:
        keeping.keep({pk: (stamps[pk], past[pk]) for pk in anew}, day=day)
    return past


def _worked_out(material: Material, series: Series, shelf: "_Shelf") -> PastUse:
    a_day = material.guessed_use / DAYS_GUESSED_FOR if material.guessed_use else None
    return past_use(series, shelf.lead(material), guess_per_day=a_day)


@dataclass(frozen=True, slots=True)
class _Shelf:
    """Everything besides past use that a level rests on, read once."""

    on: date
    studio: Studio
    formatter: Formatter
    stock: Mapping[int, int]
    held: Mapping[int, int]
    coming: Mapping[int, int]
    reserved: Mapping[int, list[tuple[date, int]]]
    supplies: Mapping[int, list[Supply]]
    lead_times: LeadTimes

    @classmethod
    def of(cls, on: date, keys: Collection[int] | None, studio: Studio, known: Promises | None) -> "_Shelf":
        usable, expired = known.usable(on) if known else usable_and_expired(on, keys)
        promises = known or Promises(on)
        reserved: dict[int, list[tuple[date, int]]] = defaultdict(list)
        for reservation in promises.reservations:
            for pk, quantity in reservation.quantities.items():
                reserved[pk].append((reservation.plan.planned_on, quantity))
        coming = Counter[int]()
        for arrival in promises.arrivals:
            coming[arrival.material] += arrival.quantity
        return cls(
            on=on,
            studio=studio,
            formatter=Formatter.of(studio),
            stock=usable,
            held=usable + expired,
            coming=coming,
            reserved=reserved,
            supplies=supplies_of(keys),
            lead_times=LeadTimes(on, studio, promises.arrivals),
        )

    def lead(self, material: Material) -> LeadTime:
        """Of whoever is listed first for a material."""
        return self.lead_times.of(self.supplier(material))

    def supplier(self, material: Material) -> Supplier | None:
        supplies = self.supplies.get(material.pk)
        return supplies[0].supplier if supplies else None

    def service_for(self, material: Material) -> float:
        """Its own service level, or the studio's."""
        usual = self.studio.vital_service_level if material.is_vital else self.studio.service_level
        return (material.service_level or usual) / MILLION

    def reserved_by(self, material: Material, day: date) -> int:
        """What plans up to a day take of a material; those whose day has passed still wait."""
        return sum(
            quantity for planned_on, quantity in self.reserved.get(material.pk, ()) if planned_on <= day
        )


def _level(material: Material, past: PastUse | None, shelf: _Shelf) -> Level:
    """The level of one material; `past` is None for what is made here, whose use is that of its ingredients."""
    lead = shelf.lead(material)
    use = past.until_delivery if past else None
    service = shelf.service_for(material)
    calculated = _calculated(material, use, lead, service)
    stock = shelf.stock.get(material.pk, 0)
    return Level(
        material=material,
        stock=stock,
        on_order=shelf.coming.get(material.pk, 0),
        reserved=shelf.reserved_by(material, date.max),
        due=shelf.reserved_by(material, shelf.on + timedelta(days=lead.longest)),
        level=calculated if material.reorder_level is None else material.reorder_level,
        calculated=calculated,
        asked=service,
        run_out_on=stock_cover.next_run_out(shelf.on, stock, use.per_day if use else 0.0),
        past=past or NO_USE,
        lead=lead,
        own_deliveries=shelf.lead_times.own_deliveries(shelf.supplier(material)),
        is_lead_assumed=shelf.supplier(material) is None,
        formatter=shelf.formatter,
    )


def _calculated(
    material: Material, use: UseUntilDelivery | None, lead: LeadTime, service: float
) -> int | None:
    """What past use makes of the level; with the owner's own safety stock, use over the lead time and that much."""
    if use is None:
        return material.safety_stock
    level = use.level(service)
    if material.safety_stock is not None:
        level = max(ceil(use.per_day * lead.mean) + material.safety_stock, use.largest_usual)
    return stock_cover.whole_things(level) if material.measure == Measure.COUNT else level
