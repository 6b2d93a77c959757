"""Clicking down: the entries behind a figure, and what is known of one material or one lot.

Quantities are thousandths of the base unit, money millionths of the currency unit.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from django.db.models import Exists, F, OuterRef, QuerySet, Sum
from django.db.models.functions import TruncMonth

from inventory.ledger.accounts import Spot
from inventory.ledger.models import Entry, Lot, Place, Posting, Reason
from inventory.ledger.reversals import spot_of
from inventory.materials.models import Material
from inventory.purchasing.models import DeliveryLine
from inventory.recipes.models import Mix, Recipe
from inventory.sessions.models import Pour
from inventory.stock.queries import HeldLot, MaterialStock, held_lots, stock_of
from studio.translation import _

MOVEMENTS_ON_A_CARD = 20
MONTHS_ON_A_CARD = 12
RECEIPTS_ON_A_CARD = 30


@dataclass(frozen=True, slots=True)
class Movement:
    """One entry as seen from its own place, and the place at the other end of the move."""

    posting: Posting
    line: int
    material: Material
    quantity: int
    money: int
    role: str
    here: Spot
    here_name: str
    there: Spot
    there_name: str

    @property
    def is_undone(self) -> bool:
        """Taken back since, or itself taking something back."""
        return self.posting.reverses_id is not None or hasattr(self.posting, "reversed_by")


def movements(
    entries: QuerySet[Entry], *, limit: int = MOVEMENTS_ON_A_CARD, offset: int = 0
) -> list[Movement]:
    """Entries of any queryset, newest first, each with its other end: four queries however many there are."""
    page = list(
        entries.select_related("posting__recorded_by", "posting__reversed_by", "material").order_by(
            "-posting_id", "-line"
        )[offset : offset + limit]
    )
    return _with_other_ends(page)


def moves_of(posting: Posting) -> list[Movement]:
    """A posting move by move, in its own order, each seen from the giver."""
    givers = Entry.objects.filter(posting=posting).annotate(odd=F("line") % 2).filter(odd=1).order_by("line")
    return _with_other_ends(
        list(givers.select_related("posting__recorded_by", "posting__reversed_by", "material"))
    )


def _with_other_ends(page: list[Entry]) -> list[Movement]:
    ends = {(entry.posting_id, _partner(entry.line)) for entry in page}
    partners = {
        (entry.posting_id, entry.line): entry
        for entry in Entry.objects.filter(
            posting__in={number for number, _ in ends}, line__in={line for _, line in ends}
        )
    }
    reasons = {entry.reason_id for entry in [*page, *partners.values()] if entry.reason_id}
    names = Reason.objects.in_bulk(reasons) if reasons else {}
    found = []
    for entry in page:
        partner = partners[entry.posting_id, _partner(entry.line)]
        found.append(
            Movement(
                posting=entry.posting,
                line=entry.line,
                material=entry.material,
                quantity=entry.quantity,
                money=entry.money,
                role=entry.role,
                here=spot_of(entry),
                here_name=name_of(entry, names),
                there=spot_of(partner),
                there_name=name_of(partner, names),
            )
        )
    return found


def _partner(line: int) -> int:
    return line + 1 if line % 2 else line - 1


def name_of(entry: Entry, reasons: dict[int, Reason]) -> str:
    """The place an entry names, in words: the labels on jars and surfaces, or what the place is."""
    if entry.lot_id is not None:
        return Lot(pk=entry.lot_id).label
    if entry.pour_id is not None:
        pour = Pour(pk=entry.pour_id).label
        return _("{pour} (sold)", pour=pour) if entry.place == Place.SOLD else pour
    if entry.mix_id is not None:
        return _("Mix {number}", number=entry.mix_id)
    if entry.reason_id is not None:
        return reasons[entry.reason_id].name
    return str(Place(entry.place).label)


@dataclass(frozen=True, slots=True)
class Receipt:
    """What came in, when, and what it cost: the unit cost through time."""

    on: date
    lot: Lot
    quantity: int
    money: int


@dataclass(frozen=True, slots=True)
class MonthUse:
    """What was used of a material in the month that begins on a day."""

    month: date
    quantity: int


@dataclass(frozen=True, slots=True)
class MaterialCard:
    """Everything known of one material, each figure leading to the entries behind it."""

    stock: MaterialStock
    lots: tuple[HeldLot, ...]
    movements: tuple[Movement, ...]
    use: tuple[MonthUse, ...]
    recipes: tuple[Recipe, ...]
    receipts: tuple[Receipt, ...]


def material_card(material: Material, *, on: date, alerts: Mapping[int, int]) -> MaterialCard:
    """A material's stock, lots, last movements, use a month over the year to `on`, recipes and unit costs."""
    return MaterialCard(
        stock=stock_of(Material.objects.filter(pk=material.pk), alerts=alerts)[0],
        lots=tuple(held_lots(materials=[material.pk])),
        movements=tuple(movements(Entry.objects.filter(material=material, place=Place.LOT))),
        use=use_by_month(material, on=on),
        recipes=tuple(Recipe.objects.filter(versions__parts__material=material).distinct()),
        receipts=_receipts(material),
    )


def use_by_month(material: Material, *, on: date, months: int = MONTHS_ON_A_CARD) -> tuple[MonthUse, ...]:
    """What was used in each of the months up to and including the one of `on`, oldest first, none left out."""
    starts = [_month_before(on, back) for back in reversed(range(months))]
    used = dict(
        Entry.objects.uses()
        .filter(material=material, posting__effective_on__gte=starts[0], posting__effective_on__lte=on)
        .order_by()
        .annotate(month=TruncMonth("posting__effective_on"))
        .values_list("month")
        .annotate(total=-Sum("quantity"))
    )
    return tuple(MonthUse(start, used.get(start, 0)) for start in starts)


def _month_before(day: date, back: int) -> date:
    years, month = divmod(day.year * 12 + day.month - 1 - back, 12)
    return date(years, month + 1, 1)


def _receipts(material: Material) -> tuple[Receipt, ...]:
    latest = (
        Entry.objects.receipts()
        .filter(material=material)
        .select_related("posting", "lot__material")
        .order_by("-posting_id", "-line")[:RECEIPTS_ON_A_CARD]
    )
    return tuple(
        Receipt(entry.posting.effective_on, entry.lot, entry.quantity, entry.money)
        for entry in reversed(latest)
        if entry.lot is not None
    )


@dataclass(frozen=True, slots=True)
class LotCard:
    """Where one lot came from, what it holds, and where the rest went."""

    lot: Lot
    held: HeldLot | None
    delivered: DeliveryLine | None
    mixed: Mix | None
    movements: tuple[Movement, ...]
    decanted_into: tuple[Lot, ...]
    pours: tuple[Pour, ...]


def lot_card(lot: Lot) -> LotCard:
    """One lot with its last movements, the jars it was decanted into and the pours it went on."""
    held = held_lots(lots=[lot.pk])
    return LotCard(
        lot=lot,
        held=held[0] if held else None,
        delivered=DeliveryLine.objects.filter(lot=lot).select_related("delivery__supplier").first(),
        mixed=Mix.objects.filter(lot=lot).select_related("version__recipe").first(),
        movements=tuple(movements(Entry.objects.filter(lot=lot))),
        decanted_into=tuple(Lot.objects.filter(decanted_from=lot)),
        pours=pours_from(lot),
    )


def pours_from(lot: Lot) -> tuple[Pour, ...]:
    """The standing pours that this lot itself went on, newest first."""
    giver = Entry.objects.standing().filter(
        lot=lot, quantity__lt=0, posting=OuterRef("posting"), line=OuterRef("line") - 1
    )
    taken = Entry.objects.filter(
        pour__isnull=False, posting__in=Entry.objects.filter(lot=lot).values("posting")
    ).filter(Exists(giver))
    return tuple(Pour.objects.filter(pk__in=taken.values("pour")).select_related("session", "surface"))
