"""What the ledger, orders and deliveries say of past use and past lead times: the same few queries for any number.

Use is what production took from the shelf (mixes, sessions, finishing). What is made here takes its ingredients from
the shelf when it is mixed, so use of them is counted where it happened, however they reached the canvas.
"""

from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import groupby
from operator import itemgetter

from django.db.models import Exists, F, Min, OuterRef, Q, Sum
from django.db.models.expressions import Combinable

from inventory.ledger.models import IS_FROM_STOCK, Entry, Lot, Place, Posting, is_production
from inventory.materials.models import Supplier
from inventory.purchasing.incoming import Arrival
from inventory.purchasing.models import Delivery, DeliveryLine
from inventory.reordering.calculations.demand import DAYS_READ, NO_HISTORY, Series, daily_series
from inventory.reordering.calculations.lead_times import (
    USUAL_DELAY,
    USUAL_VARIATION,
    VARIATION_FROM_ABROAD,
    LeadTime,
    lead_time,
)
from inventory.reordering.calculations.levels import DAYS_SUMMED
from inventory.stock.queries import usable_and_expired
from studio.preferences.models import Studio

# What a supplier's form starts with, for materials that no supplier is listed for.
USUAL_LEAD_TIME_DAYS = 7
# Who has done without something for longer than this has stopped using it (own choice).
LONGEST_WITHOUT_STOCK = 60
MOST_VARIATION = 2.0
ROWS_AT_A_TIME = 5_000

Movement = tuple[int, date, int, int]
Day = tuple[date, int, int]  # the day, what stock changed by, what production used of it


def daily_use(
    on: date, materials: Collection[int] | None = None, *, stock: Mapping[int, int]
) -> Iterator[tuple[int, Series]]:
    """Use by day of each material that has moved in the last three years, to the end of a day: one after the other.

    `stock` is all that is held of them now. A day without any is no day without demand.
    """
    return series_by_material(_movements(on, materials), on=on, first=_first_receipts(materials), stock=stock)


def series_by_material(
    rows: Iterable[Movement], *, on: date, first: Mapping[int, date], stock: Mapping[int, int]
) -> Iterator[tuple[int, Series]]:
    """The same from rows of material, day, what stock changed by and what production used, in that order."""
    for material, moved in groupby(rows, key=itemgetter(0)):
        days: list[Day] = [(day, change, used) for _material, day, change, used in moved]
        uses = {day: used for day, _change, used in days if used > 0 and day <= on}
        gone = days_without_stock(days, stock.get(material, 0), on=on)
        yield material, daily_series(uses, on=on, first=first.get(material), out_of_stock=gone)


@dataclass(frozen=True, slots=True)
class Story:
    """What happened to one material: the days on which its stock changed, and its use by day to the end of `on`.

    `held` is what is in stock now, `first` the day on which it first came in.
    """

    days: list[Day]
    held: int
    first: date | None
    series: Series


def story_of(on: date, material: int) -> Story:
    """The last three years of one material, in three queries."""
    usable, expired = usable_and_expired(on, [material])
    held, first = usable[material] + expired[material], _first_receipts([material]).get(material)
    rows = list(_movements(on, [material]))
    series = dict(
        series_by_material(rows, on=on, first={material: first} if first else {}, stock={material: held})
    )
    days = [(day, change, used) for _material, day, change, used in rows]
    return Story(days, held, first, series.get(material, NO_HISTORY))


def last_uses() -> dict[int, int]:
    """What each material's last posting of production used of it: one query."""
    uses = Entry.objects.uses().order_by().values_list("material", "posting")
    return {
        material: used
        for material, _posting, used in uses.annotate(used=-Sum("quantity")).order_by("posting")
    }


def deliveries_of(material: int, *, since: date, on: date) -> dict[date, int]:
    """What deliveries brought of a material, by day, without those that were reversed."""
    lines = DeliveryLine.objects.filter(
        lot__material=material,
        delivery__posting__reversed_by__isnull=True,
        delivery__received_on__gt=since,
        delivery__received_on__lte=on,
    )
    return dict(lines.order_by().values_list("delivery__received_on").annotate(total=Sum("quantity")))


def days_without_stock(days: Iterable[Day], stock: int, *, on: date) -> list[date]:
    """The days to the end of `on` that began with nothing and on which nothing came, counted back from today's stock.

    `days` are those on which stock changed, oldest first. The first of many such days in a row count, as far as
    LONGEST_WITHOUT_STOCK: who does without for longer no longer needs it.
    """
    gone: list[date] = []
    following = on + timedelta(days=1)
    for day, change, _used in reversed(list(days)):
        if stock <= 0 and day < following:
            empty = min((following - day).days - 1, LONGEST_WITHOUT_STOCK)
            gone += [day + timedelta(days=number) for number in range(1, empty + 1)]
        following = min(following, day)
        stock -= change
    return gone


def _movements(on: date, materials: Collection[int] | None) -> Iterator[Movement]:
    """Of all materials, production's postings are looked up once, and the entries read in the order they lie in.

    Joined to their postings one by one, in order of materials, they take SQLite some twenty times as long. Of a few
    materials, an index leads straight to their entries.
    """
    since = on - timedelta(days=DAYS_READ)
    entries = Entry.objects.filter(place=Place.LOT, effective_on__gt=since).exclude(quantity=0)
    if materials is None:
        number: Combinable = F("material_id") + 0  # which no index is in order of
        used = IS_FROM_STOCK & Q(posting__in=Posting.objects.order_by().filter(is_production()).values("pk"))
    else:
        number = F("material_id")
        used = IS_FROM_STOCK & is_production("posting__")
        entries = entries.filter(material__in=materials)
    rows = (
        entries.annotate(number=number)
        .order_by()
        .values_list("number", "effective_on")
        .annotate(change=Sum("quantity"), used=-Sum("quantity", filter=used, default=0))
        .order_by("number", "effective_on")
    )
    return rows.iterator(chunk_size=ROWS_AT_A_TIME)


def _first_receipts(materials: Collection[int] | None) -> dict[int, date]:
    """The first day on which something of each material came in and stayed.

    Only of the few lots that something reversed had put something into is it asked whether anything else did.
    """
    put_in = Entry.objects.order_by().filter(quantity__gt=0, lot__isnull=False)
    reversed_lots = put_in.filter(posting__reversed_by__isnull=False).values("lot")
    stayed = Entry.objects.standing().filter(lot=OuterRef("pk"), quantity__gt=0)
    lots = Lot.objects.filter(~Q(pk__in=reversed_lots) | Exists(stayed))
    if materials is not None:
        lots = lots.filter(material__in=materials)
    return dict(lots.order_by().values_list("material_id").annotate(first=Min("received_on")))


@dataclass(frozen=True, slots=True)
class DeliveryTime:
    """What an order took to be delivered, in days, beside what its supplier states; so far, where it is open."""

    supplier: int
    days: int
    stated: int
    is_open: bool = False


class LeadTimes:
    """The lead time of each supplier: what it states, blended with its own deliveries and the others' delays."""

    def __init__(self, on: date, studio: Studio, coming: Iterable[Arrival]) -> None:
        self.studio = studio
        self.taken = [*_delivery_times(on), *_late(on, coming)]
        self._known: dict[int | None, LeadTime] = {}

    def of(self, supplier: Supplier | None) -> LeadTime:
        """The usual lead time where no supplier is listed."""
        pk = supplier.pk if supplier else None
        if pk not in self._known:
            self._known[pk] = lead_time(
                supplier.lead_time_days if supplier else USUAL_LEAD_TIME_DAYS,
                own=[each.days for each in self.taken if each.supplier == pk and not each.is_open],
                still_open=[each.days for each in self.taken if each.supplier == pk and each.is_open],
                ratios_of_others=[each.days / each.stated for each in self.taken if each.supplier != pk],
                variation=self._variation(supplier) if supplier else USUAL_VARIATION,
                days_between_checks=self.studio.days_between_orders,
            )
        return self._known[pk]

    def own_deliveries(self, supplier: Supplier | None) -> int:
        """How many of a supplier's own deliveries are known."""
        return sum(supplier is not None and each.supplier == supplier.pk for each in self.taken)

    def _variation(self, supplier: Supplier) -> float:
        """The usual one, that of goods from abroad where it charges in a foreign currency, or more where it says so."""
        usual = USUAL_VARIATION if supplier.currency == self.studio.currency else VARIATION_FROM_ABROAD
        stated = supplier.lead_time_variation_days / (max(supplier.lead_time_days, 1) * USUAL_DELAY)
        return min(max(usual, round(stated, 2)), MOST_VARIATION)


def _delivery_times(on: date) -> list[DeliveryTime]:
    """What the orders of the last two years took: each day on which some of one came."""
    since = on - timedelta(days=DAYS_SUMMED)
    by_order = (
        Delivery.objects.filter(
            posting__reversed_by__isnull=True, order__ordered_on__gt=since, received_on__lte=on
        )
        .order_by()
        .values_list(
            "order_id",
            "order__supplier_id",
            "order__ordered_on",
            "received_on",
            "order__supplier__lead_time_days",
        )
    )
    by_line = (
        DeliveryLine.objects.filter(
            delivery__posting__reversed_by__isnull=True,
            order_line__order__ordered_on__gt=since,
            delivery__received_on__lte=on,
        )
        .exclude(delivery__order=F("order_line__order"))
        .order_by()
        .values_list(
            "order_line__order_id",
            "order_line__order__supplier_id",
            "order_line__order__ordered_on",
            "delivery__received_on",
            "order_line__order__supplier__lead_time_days",
        )
    )
    return [
        DeliveryTime(supplier, (received - ordered).days, max(stated, 1))
        for _order, supplier, ordered, received, stated in sorted(by_order.union(by_line))
        if received >= ordered
    ]


def _late(on: date, coming: Iterable[Arrival]) -> list[DeliveryTime]:
    """Orders of the last two years that should have come by now: they took at least until today."""
    since = on - timedelta(days=DAYS_SUMMED)
    late = {
        (each.supplier, each.ordered_on): DeliveryTime(
            each.supplier, (on - each.ordered_on).days, max(each.stated_days, 1), is_open=True
        )
        for each in coming
        if each.quantity and since < each.ordered_on and each.due_on < on
    }
    return [late[key] for key in sorted(late)]
