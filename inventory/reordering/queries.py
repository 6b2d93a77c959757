"""When to order what: a level for every material, where it comes from, and the packs that would fill the shelf again.

Quantities are thousandths of the base unit. The statistics are in calculations.py; this module only brings them the
ledger's figures, in the same few queries however many materials there are.
"""

from collections import defaultdict
from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace
from datetime import date, timedelta
from fractions import Fraction
from math import ceil

from django.db.models import Exists, Min, OuterRef, QuerySet, Sum

from inventory.ledger.models import Entry, Lot
from inventory.materials.models import Material, Supplier, Supply
from inventory.materials.queries import Buy, best_buy, supplies_of
from inventory.purchasing.incoming import on_order
from inventory.recipes.models import Recipe
from inventory.reordering import calculations as demand
from inventory.reordering.calculations import DatedUse, DemandEstimate, LeadTime
from inventory.reordering.models import Alert
from inventory.stock.queries import usable_and_expired
from studio.preferences.models import Studio
from studio.translation import _, ngettext, noop
from studio.values.allocation import divide_half_up
from studio.values.quantities import format_quantity
from studio.values.units import Measure

DAYS_LOOKED_BACK = 365
# Nineteen deliveries in twenty come before the shelf is empty (common practice, no source).
SERVICE_LEVEL = 950_000
# What a supplier's form starts with, for materials that no supplier is listed for.
USUAL_LEAD_TIME_DAYS = 7
# Ordering brings a month's use on top of the level, so that the next order is not due tomorrow.
DAYS_ORDERED_FOR = 30
# How a level came about, by whether a supplier is listed and whether the safety stock is the owner's own. Whole
# sentences, since languages order their parts differently.
REASONS = {
    (False, False): noop(
        "Average use {used} a day ({days} days); lead time {lead} days (usual); safety stock {safety}."
    ),
    (False, True): noop(
        "Average use {used} a day ({days} days); lead time {lead} days (usual); your own safety stock {safety}."
    ),
    (True, False): noop(
        "Average use {used} a day ({days} days); lead time {lead} days ({supplier}); safety stock {safety}."
    ),
    (True, True): noop(
        "Average use {used} a day ({days} days); lead time {lead} days ({supplier}); your own safety "
        "stock {safety}."
    ),
}


@dataclass(frozen=True, slots=True)
class Level:
    """Where a material stands against the stock at which to order it.

    `level` is None for what was not used lately, or has been here too short a time, and has no level of its own;
    `reason` then says which.
    """

    material: Material
    stock: int
    on_order: int
    level: int | None
    reason: str
    is_low: bool
    run_out_on: date | None
    suggestion: Buy | None


def levels(on: date, *, materials: Collection[int] | None = None) -> list[Level]:
    """The level of every material that is bought, and of those made here that have a level of their own, by name."""
    chosen = Material.objects.filter(is_archived=False, is_free=False)
    if materials is not None:
        chosen = chosen.filter(pk__in=materials)
    made = set(Recipe.objects.values_list("makes_id", flat=True))
    wanted = [item for item in chosen if item.reorder_level is not None or item.pk not in made]
    keys = None if materials is None else [item.pk for item in wanted]
    facts = _Facts(
        on=on,
        stock=usable_and_expired(on, keys)[0],
        coming=on_order(keys),
        uses=_uses(on, keys),
        first_receipts=_first_receipts(keys),
        supplies=supplies_of(keys),
        currency=Studio.current().currency,
        factor=demand.safety_factor(SERVICE_LEVEL),
    )
    return [_level(material, facts) for material in wanted]


def open_alerts() -> QuerySet[Alert]:
    """Alerts that stand now, by material."""
    return Alert.objects.filter(cleared_at__isnull=True).select_related("material").order_by("material__name")


@dataclass(frozen=True, slots=True)
class StandingAlert:
    """An open alert and its material as it stands now; as it stood then, where no level is kept for it any more."""

    alert: Alert
    now: Level


def standing_alerts(on: date) -> list[StandingAlert]:
    """Open alerts by material, with today's stock: a few queries however many there are."""
    alerts = list(open_alerts())
    now = {
        level.material.pk: level for level in levels(on, materials=[alert.material_id for alert in alerts])
    }
    return [StandingAlert(alert, _since(alert, now.get(alert.material_id))) for alert in alerts]


def _since(alert: Alert, now: Level | None) -> Level:
    if now is not None:
        return now if now.level is not None else replace(now, level=alert.level)
    return Level(
        material=alert.material,
        stock=alert.stock,
        on_order=alert.on_order,
        level=alert.level,
        reason=alert.reason,
        is_low=True,
        run_out_on=None,
        suggestion=None,
    )


def alert_levels() -> dict[int, int]:
    """The reorder level of everything that has an open alert, by material."""
    standing = Alert.objects.filter(cleared_at__isnull=True).order_by()
    return dict(standing.values_list("material_id", "level"))


@dataclass(frozen=True, slots=True)
class _Facts:
    on: date
    stock: Mapping[int, int]
    coming: Mapping[int, int]
    uses: Mapping[int, list[DatedUse]]
    first_receipts: Mapping[int, date]
    supplies: Mapping[int, list[Supply]]
    currency: str
    factor: Fraction


def _level(material: Material, facts: _Facts) -> Level:
    estimate = demand.average_daily_use(
        facts.uses.get(material.pk, ()),
        as_of=facts.on,
        window_days=DAYS_LOOKED_BACK,
        first_receipt=facts.first_receipts.get(material.pk),
    )
    supplies = facts.supplies.get(material.pk, [])
    level, reason = level_for(material, estimate, supplies[0].supplier if supplies else None, facts.factor)
    stock, coming = facts.stock.get(material.pk, 0), facts.coming.get(material.pk, 0)
    is_low = level is not None and demand.needs_reorder(stock, coming, level)
    a_day = estimate.per_day if estimate.is_long_enough else Fraction(0)
    suggestion = None
    if is_low and level is not None and supplies:
        target = level + max(ceil(a_day * DAYS_ORDERED_FOR), level)
        suggestion = best_buy(max(target - stock - coming, 1), supplies, facts.currency)
    return Level(
        material=material,
        stock=stock,
        on_order=coming,
        level=level,
        reason=reason,
        is_low=is_low,
        run_out_on=demand.next_run_out(facts.on, stock, a_day),
        suggestion=suggestion,
    )


def level_for(
    material: Material, estimate: DemandEstimate, supplier: Supplier | None, factor: Fraction
) -> tuple[int | None, str]:
    """A material's reorder level and where it comes from: the owner's own, or use over the lead time + safety stock."""
    if material.reorder_level is not None:
        return material.reorder_level, _("Your own level.")
    if not estimate.per_day:
        if material.safety_stock:
            return material.safety_stock, _("Your own safety stock; nothing was used in the last year.")
        return (
            None,
            _("Nothing was used in the last year, so there is no reorder level. Set your own to be alerted."),
        )
    if not estimate.is_long_enough:
        return material.safety_stock, _too_short(estimate.days, has_safety=material.safety_stock is not None)
    lead = LeadTime(Fraction(USUAL_LEAD_TIME_DAYS))
    if supplier is not None:
        lead = LeadTime(Fraction(supplier.lead_time_days), Fraction(supplier.lead_time_variation_days**2))
    safety = material.safety_stock
    if safety is None:
        safety = demand.safety_stock(factor, estimate, lead)
    level = demand.reorder_level(estimate.per_day, lead.days, safety)
    if material.measure == Measure.COUNT:
        level = demand.whole_things(level)
    return level, _reason(material, estimate, lead, supplier, safety)


def _too_short(days: int, *, has_safety: bool) -> str:
    """Why use says nothing of the level yet."""
    least = demand.LEAST_DAYS_OF_HISTORY
    if has_safety:
        return ngettext(
            "Your own safety stock; only {n} day of history so far, and use is counted from {least} days.",
            "Your own safety stock; only {n} days of history so far, and use is counted from {least} days.",
            days,
            n=days,
            least=least,
        )
    return ngettext(
        "Only {n} day of history. A reorder level is calculated after {least} days; set your own to "
        "be alerted sooner.",
        "Only {n} days of history. A reorder level is calculated after {least} days; set your own to "
        "be alerted sooner.",
        days,
        n=days,
        least=least,
    )


def _reason(
    material: Material, estimate: DemandEstimate, lead: LeadTime, supplier: Supplier | None, safety: int
) -> str:
    """How a level came about."""
    measure = Measure(material.measure)
    a_day = divide_half_up(estimate.per_day.numerator, estimate.per_day.denominator)
    return _(
        REASONS[supplier is not None, material.safety_stock is not None],
        used=format_quantity(a_day, measure),
        days=estimate.days,
        lead=lead.days,
        supplier=supplier.name if supplier else "",
        safety=format_quantity(safety, measure),
    )


def _uses(on: date, materials: Collection[int] | None) -> dict[int, list[DatedUse]]:
    since = on - timedelta(days=DAYS_LOOKED_BACK)
    uses = Entry.objects.uses().filter(posting__effective_on__gt=since, posting__effective_on__lte=on)
    if materials is not None:
        uses = uses.filter(material__in=materials)
    by_material: dict[int, list[DatedUse]] = defaultdict(list)
    rows = (
        uses.order_by().values_list("material_id", "posting__effective_on").annotate(total=-Sum("quantity"))
    )
    for material, day, quantity in rows:
        by_material[material].append(DatedUse(day, quantity))
    return by_material


def _first_receipts(materials: Collection[int] | None) -> dict[int, date]:
    """The first day on which something of each material came in and stayed."""
    receipts = Entry.objects.standing().filter(lot=OuterRef("pk"), quantity__gt=0)
    lots = Lot.objects.filter(Exists(receipts))
    if materials is not None:
        lots = lots.filter(material__in=materials)
    return dict(lots.order_by().values_list("material_id").annotate(first=Min("received_on")))
