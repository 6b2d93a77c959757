"""What open plans reserve, what is free on a day, and the answer to a plan.

Quantities are thousandths of the base unit. Plans come first by their day, then by when they were made: what is mixed
already goes to the first that needs it. The same few queries, however many plans there are.
"""

from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from functools import cached_property
from math import ceil

from django.db.models import Q, Sum

from inventory.ledger.models import Entry, Place
from inventory.materials.models import Kind, Material
from inventory.plans.models import Plan
from inventory.purchasing.incoming import Arrival, arrivals
from inventory.recipes.calculations import MixingError
from inventory.recipes.queries import latest_versions, lots_by_version, plain_recipe
from inventory.sessions.most_pours import GRACE, Shelf, together
from inventory.sessions.queries.planning import Answer, Colour, SetLine, SetPlan, exact_lines, plan_set
from inventory.stock.availability import NOTHING, Dated, StockFigures, free_from
from inventory.stock.queries import HeldLot, held_lots
from studio.preferences.models import Studio

# Others of the same kind that could stand in for what is short: so many are named.
MOST_NAMED = 4


def set_of(plan: Plan, studio: Studio) -> SetPlan:
    """A plan as the question that it is."""
    return SetPlan(
        lines=[
            SetLine(
                line.surface,
                line.count,
                line.technique,
                [Colour(colour.material, colour.share) for colour in line.colours.all()],
                line.arm,
                line.poured,
            )
            for line in plan.lines.all()
        ],
        reserve=studio.reserve if plan.extra_paint is None else plan.extra_paint,
        include_expired=plan.include_expired,
        versions={version.recipe.makes_id: version for version in plan.kept_versions},
    )


@dataclass(frozen=True, slots=True)
class Reservation:
    """What an open plan takes off the shelf of each material, bought or mixed already."""

    plan: Plan
    quantities: Mapping[int, int]


@dataclass(frozen=True, slots=True)
class Shortage:
    """How much of a material has to be bought for plans, and for which."""

    quantity: int
    plans: list[Plan]


class Promises:
    """What is promised and expected, read once: lots, open orders, and what each open plan reserves.

    An order that is late is expected tomorrow: it has not come today. One without a day is not counted on.
    """

    def __init__(self, today: date) -> None:
        self.today = today
        self._usable: dict[date, tuple[Counter[int], Counter[int]]] = {}

    @cached_property
    def lots(self) -> list[HeldLot]:
        return held_lots()

    @cached_property
    def arrivals(self) -> list[Arrival]:
        return arrivals()

    @cached_property
    def reservations(self) -> list[Reservation]:
        """By every open plan, those that come first in front."""
        plans = list(Plan.objects.open().with_lines().select_related(None))  # what session there was is gone
        return self._reserved(plans) if plans else []

    def _reserved(self, plans: Sequence[Plan]) -> list[Reservation]:
        studio = Studio.current()
        recipes = {pk: plain_recipe(version) for pk, version in latest_versions().items()}
        sets = [set_of(plan, studio) for plan in plans]
        free = set(Material.objects.filter(is_free=True).values_list("pk", flat=True))
        by_version = self._lots_by_version(sets)
        taken, reserved = Counter[int](), []
        for plan, asked, lines in zip(plans, sets, exact_lines(sets), strict=True):
            usable, expired = self.usable(plan.planned_on)
            ready = usable + expired if plan.include_expired else usable
            fixed = {pk: plain_recipe(version) for pk, version in asked.versions.items()}
            mixed: dict[int, int | None] = {pk: max(ready[pk] - taken[pk], 0) for pk in {**recipes, **fixed}}
            for pk, version in asked.versions.items():
                own = self._held_of(by_version[version.pk], plan.planned_on, plan.include_expired)
                mixed[pk] = min(mixed[pk] or 0, own)
            try:
                needs = Shelf(mixed, recipes | fixed).taken(together(lines, [line.count for line in lines]))
            except MixingError:  # a density was taken away since, or recipes go round in a circle
                needs = {}
            quantities = {pk: ceil(quantity) for pk, quantity in needs.items() if pk not in free}
            taken.update(quantities)
            reserved.append(Reservation(plan, quantities))
        return reserved

    def _lots_by_version(self, sets: Sequence[SetPlan]) -> dict[int, set[int]]:
        """The lots of the versions that plans keep to; no query where none does."""
        versions = {version.pk: version for each in sets for version in each.versions.values()}
        return lots_by_version(versions.values()) if versions else {}

    def _held_of(self, lots: set[int], day: date, include_expired: bool) -> int:
        return sum(
            lot.quantity
            for lot in self.lots
            if lot.lot in lots and (include_expired or lot.is_usable_on(day))
        )

    def usable(self, day: date) -> tuple[Counter[int], Counter[int]]:
        """What is in stock now by material: what can be used on a day, and what is past its day by then."""
        if day not in self._usable:
            usable, expired = Counter[int](), Counter[int]()
            for lot in self.lots:
                (usable if lot.is_usable_on(day) else expired)[lot.material] += lot.quantity
            self._usable[day] = usable, expired
        return self._usable[day]

    def on(
        self, day: date, *, ahead_of: Plan | None = None, include_expired: bool = False
    ) -> dict[int, StockFigures]:
        """The four figures of every material for a day.

        For a question nobody has kept, what any plan needs is left alone, whenever it is due. A plan comes behind
        those `ahead_of` which it stands in the list, and in front of the others.
        """
        usable, expired = self.usable(day)
        if include_expired:
            usable, expired = usable + expired, Counter()
        reserved = self._dated_reservations(ahead_of)
        coming = self._dated_arrivals(day if ahead_of is not None else None)
        moving = {
            pk: StockFigures(
                held=usable[pk],
                reserved=sum(quantity for _when, quantity in reserved[pk]),
                due=sum(quantity for when, quantity in coming[pk] if when <= day),
                available=free_from(day, usable[pk], arrivals=coming[pk], reserved=reserved[pk]),
                expired=expired[pk],
            )
            for pk in {*reserved, *coming}
        }
        resting = {
            pk: StockFigures(held=usable[pk], available=usable[pk], expired=expired[pk])
            for pk in {*usable, *expired} - moving.keys()
        }
        return moving | resting

    def _dated_reservations(self, plan: Plan | None) -> Mapping[int, list[Dated]]:
        dated: dict[int, list[Dated]] = defaultdict(list)
        for reservation in self.reservations:
            if plan is not None and _rank(reservation.plan) >= _rank(plan):
                break
            for pk, quantity in reservation.quantities.items():
                dated[pk].append((reservation.plan.planned_on, quantity))
        return dated

    def _dated_arrivals(self, until: date | None) -> Mapping[int, list[Dated]]:
        dated: dict[int, list[Dated]] = defaultdict(list)
        for arrival in self.arrivals:
            if arrival.expected_on is None:
                continue
            when = arrival.expected_on
            if when < self.today:
                when = self.today + timedelta(days=1)
            if until is None or when <= until:
                dated[arrival.material].append((when, arrival.quantity))
        return dated

    def plans_that_take(self, material: int) -> list[tuple[Plan, int]]:
        """The open plans that reserve some of a material, and how much."""
        return [
            (each.plan, each.quantities[material])
            for each in self.reservations
            if each.quantities.get(material)
        ]

    def short(self) -> dict[int, dict[int, int]]:
        """What each open plan is short of on its day, by plan and material, when those in front of it come first."""
        lacking: dict[int, dict[int, int]] = {}
        before = Counter[int]()
        for each in self.reservations:
            day = each.plan.planned_on
            usable, expired = self.usable(day)
            ready = usable + expired if each.plan.include_expired else usable
            coming = self._dated_arrivals(day)
            free = {
                pk: ready[pk] + sum(quantity for _when, quantity in coming[pk]) - before[pk]
                for pk in each.quantities
            }
            lacking[each.plan.pk] = {
                pk: quantity - free[pk]
                for pk, quantity in each.quantities.items()
                if quantity - free[pk] > GRACE
            }
            before.update(each.quantities)
        return lacking

    def to_buy(self) -> dict[int, Shortage]:
        """What has to be bought for open plans, by material: what is on order counts, even where it comes too late."""
        coming = Counter[int]()
        for arrival in self.arrivals:
            coming[arrival.material] += arrival.quantity
        plans = {each.plan.pk: each.plan for each in self.reservations}
        found: dict[int, Shortage] = {}
        for number, lacking in self.short().items():
            by_then = self._dated_arrivals(plans[number].planned_on)
            for material, quantity in lacking.items():
                too_late = coming[material] - sum(due for _when, due in by_then[material])
                if quantity > too_late:
                    known = found.setdefault(material, Shortage(0, []))
                    known.plans.append(plans[number])
                    # A plan's shortage counts those of the plans in front of it.
                    found[material] = Shortage(max(known.quantity, quantity - too_late), known.plans)
        return found


def _rank(plan: Plan) -> tuple[date, int]:
    return (plan.planned_on, plan.pk)


def answer_of(plan: Plan, *, today: date, promises: Promises | None = None) -> Answer:
    """The answer to a plan for its own day, behind the plans that come first. Raises what plan_set raises."""
    day = max(plan.planned_on, today)
    promises = promises or Promises(today)
    figures = promises.on(day, ahead_of=plan, include_expired=plan.include_expired)
    return plan_set(set_of(plan, Studio.current()), on=day, figures=figures)


def figures_for(plan: SetPlan, *, on: date, today: date) -> dict[int, StockFigures]:
    """The four figures for a question that nobody has kept."""
    return Promises(today).on(on, include_expired=plan.include_expired)


@dataclass(frozen=True, slots=True)
class StandIn:
    """Something in stock that could take the place of what is short."""

    instead_of: Material
    material: Material
    available: int


def stand_ins(answer: Answer, figures: Mapping[int, StockFigures]) -> list[StandIn]:
    """What could stand in for what is short, where something in stock is known to be alike.

    A paint or a mix of the same colour, another medium, a surface of the same shape and size. A mix is named for a
    planned mix that lacks an ingredient: the same colour with another medium. One query.
    """
    wanted = [*_short_of(answer), *_mixes_that_lack(answer)]
    if not wanted:
        return []
    own = {need.material.pk for need in answer.needs} | {cup.material.pk for cup in answer.cups}
    others = Material.objects.filter(
        is_archived=False, is_free=False, kind__in={material.kind for material in wanted}
    ).exclude(pk__in=own)
    held = [each for each in others if figures.get(each.pk, NOTHING).available > 0]
    return [
        StandIn(material, each, figures[each.pk].available)
        for material in wanted
        for each in [other for other in held if _is_alike(material, other)][:MOST_NAMED]
    ]


def _short_of(answer: Answer) -> list[Material]:
    return [need.material for need in answer.needs if need.short]


def _mixes_that_lack(answer: Answer) -> list[Material]:
    """Planned mixes that cannot all be mixed, for want of an ingredient of theirs or of a mix in them."""
    lacking = {material.pk for material in _short_of(answer)}
    mixes = []
    for cup in (*answer.mix_first, *answer.cups):  # ingredients come before what they go into
        if any(part.material.pk in lacking for part in cup.parts):
            lacking.add(cup.material.pk)
            mixes.append(cup.material)
    return mixes


def _is_alike(material: Material, other: Material) -> bool:
    if material.kind != other.kind or material.measure != other.measure:
        return False
    if material.kind == Kind.MEDIUM:
        return True
    if material.kind == Kind.SURFACE:
        shape = ("height", "width", "is_round")
        return all(getattr(material, name) == getattr(other, name) for name in shape)
    return bool(material.colour) and material.colour.casefold() == other.colour.casefold()


@dataclass(frozen=True, slots=True)
class Comparison:
    """What a plan said it would take of a material, and what its session took."""

    material: Material
    planned: int
    used: int

    @property
    def difference(self) -> int:
        return self.used - self.planned


@dataclass(frozen=True, slots=True)
class Outcome:
    """A plan beside the session that it became: pours, paint (thousandths of a mL) and cost (millionths)."""

    pours_planned: int
    pours: int
    paint_planned: int | None
    paint: int
    cost_planned: int | None
    cost: int
    materials: Sequence[Comparison]


def outcome_of(plan: Plan) -> Outcome | None:
    """What a poured plan said, and what became of it, as it was corrected since.

    What was left over in cups counts as used: it was mixed.
    """
    if plan.session is None or not plan.is_poured:
        return None
    session = plan.session
    pours = list(session.pours.values_list("poured", flat=True))
    drawn = (
        Entry.objects.filter(Q(posting=session.posting_id) | Q(posting__corrects=session.posting_id))
        .filter(place=Place.LOT)
        .exclude(lot__mix__session=session)
        .exclude(material__kind=Kind.SUNDRY)
        .order_by()
        .values_list("material_id")
    )
    used = {
        pk: (-quantity, -money)
        for pk, quantity, money in drawn.annotate(all=Sum("quantity"), cost=Sum("money"))
    }
    planned = {each.material_id: each.quantity for each in plan.planned_materials.all()}
    materials = Material.objects.in_bulk([*planned, *used])
    rows = [
        Comparison(materials[pk], planned.get(pk, 0), used.get(pk, (0, 0))[0]) for pk in {*planned, *used}
    ]
    return Outcome(
        pours_planned=sum(line.count for line in plan.lines.all()),
        pours=len(pours),
        paint_planned=plan.planned_paint,
        paint=sum(pours),
        cost_planned=plan.planned_cost,
        cost=sum(money for _quantity, money in used.values()),
        materials=sorted(rows, key=lambda row: row.material.name.casefold()),
    )
