"""What a session took, made and cost, read back from the ledger. Quantities are thousandths, money millionths."""

from collections import Counter
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from django.db.models import F, Sum, prefetch_related_objects

from inventory.ledger.models import Entry, EntryRole, Place
from inventory.ledger.movements import RecordedMovement, incoming, recorded_movements
from inventory.materials.models import Material
from inventory.recipes.models import Mix
from inventory.recipes.off_recipe import READ_ALONG, OffRecipe, off_recipe
from inventory.sessions.calculations import paint_rate
from inventory.sessions.models import Pour, Session
from studio.preferences.models import Studio
from studio.preferences.rates import DatedRates, RatesOn
from studio.values.allocation import MILLION, divide_half_up

OF_THE_SESSION = (EntryRole.SURFACE, EntryRole.POURED, EntryRole.RESIDUE, EntryRole.SUNDRY)


@dataclass(slots=True)
class MixAccount:
    """One mix: what went in, what came of it."""

    mix: Mix
    parts: list[RecordedMovement] = field(default_factory=list)
    made: int = 0
    poured: int = 0
    in_mixes: int = 0
    residue: int = 0
    thrown_away: int = 0
    spilled: int = 0
    off_recipe: OffRecipe | None = None  # where somebody looked

    @property
    def cost(self) -> int:
        return sum(part.money for part in self.parts)

    @property
    def estimated_parts(self) -> list[tuple[RecordedMovement, str]]:
        """What went in, each with what was typed where it was judged by eye."""
        totals = Counter[int]()
        for part in self.parts:
            totals[part.material.pk] += part.quantity
        return [
            (part, self.mix.estimate_of(part.material.pk, totals[part.material.pk])) for part in self.parts
        ]

    @property
    def left(self) -> int:
        """What the session put on the shelf."""
        return self.made - self.poured - self.in_mixes - self.residue - self.thrown_away - self.spilled

    @property
    def now(self) -> int:
        """What is still on the shelf today."""
        return self.mix.lot.balance.quantity


@dataclass(slots=True)
class PourAccount:
    """One pour and every line charged to it."""

    pour: Pour
    lines: list[RecordedMovement] = field(default_factory=list)

    @property
    def cost(self) -> int:
        return sum(line.money for line in self.lines)

    @property
    def paint(self) -> list[RecordedMovement]:
        return [line for line in self.lines if line.role == EntryRole.POURED and line.quantity]

    @property
    def rate(self) -> int:
        """Microlitres poured per cm², run-off included."""
        return paint_rate(self.pour.poured, self.pour.area)

    @property
    def run_off_share(self) -> int | None:
        """How much of what was poured ran off, in millionths."""
        if self.pour.run_off is None or not self.pour.poured:
            return None
        return divide_half_up(self.pour.run_off * MILLION, self.pour.poured)


@dataclass(slots=True)
class SessionAccount:
    """A session with its mixes and pours, each with what the ledger says of it, and the rates of its day."""

    session: Session
    mixes: list[MixAccount]
    pours: list[PourAccount]
    rates: RatesOn

    @property
    def cost(self) -> int:
        """Material cost of the pours, cup residue included."""
        return sum(pour.cost for pour in self.pours)

    def read_recipes(self) -> None:
        """Read what recipes say of the mixes, all at once."""
        prefetch_related_objects([made.mix for made in self.mixes], *READ_ALONG)

    def look_for_mixes_off_recipe(self, studio: Studio) -> list[MixAccount]:
        """Mark the mixes that are not as their recipe says, and answer with them."""
        self.read_recipes()
        for made in self.mixes:
            made.off_recipe = off_recipe(made.mix, studio)
        return [made for made in self.mixes if made.off_recipe]

    @property
    def sundries(self) -> list[tuple[Material, int, int]]:
        """Gloves and the like, their quantity and money summed over the pours that they were charged to."""
        used: dict[Material, list[RecordedMovement]] = {}
        for line in (line for pour in self.pours for line in pour.lines if line.role == EntryRole.SUNDRY):
            used.setdefault(line.material, []).append(line)
        return [
            (material, sum(line.quantity for line in lines), sum(line.money for line in lines))
            for material, lines in used.items()
        ]


def account_of(session: Session) -> SessionAccount:
    """Read a session's mixes, pours and entries: five queries, however large it is."""
    mixes = [
        MixAccount(mix)
        for mix in session.mixes.select_related("version__recipe__makes", "lot__balance").order_by("pk")
    ]
    pours = [
        PourAccount(pour)
        for pour in session.pours.with_thrown_away()
        .select_related("surface", "technique", "over")
        .order_by("number")
    ]
    by_lot = {account.mix.lot_id: account for account in mixes}
    by_mix = {account.mix.pk: account for account in mixes}
    by_pour = {account.pour.pk: account for account in pours}
    for each in _as_corrected(session, by_mix, by_pour):
        if each.destination.mix in by_mix:
            by_mix[each.destination.mix].parts.append(each)
        elif each.source.mix in by_mix:
            by_mix[each.source.mix].made += each.quantity
        if each.destination.pour in by_pour:
            by_pour[each.destination.pour].lines.append(each)
        if each.source.lot in by_lot:
            _left_the_cup(by_lot[each.source.lot], each)
    return SessionAccount(session, mixes, pours, DatedRates.read().on(session.held_on))


def _as_corrected(session: Session, mixes: Collection[int], pours: Collection[int]) -> list[RecordedMovement]:
    """What a session moved as corrected since, restated costs included: one movement a way, where any is left."""
    # Each by its own index: of conditions joined by "or" a database may read the whole ledger.
    entries, standing = Entry.objects.order_by(), Entry.objects.order_by().filter(posting__reversed_by=None)
    found = entries.filter(posting=session.posting_id).union(
        entries.filter(posting__corrects=session.posting_id),
        standing.filter(mix__in=mixes),
        standing.filter(pour__in=pours, place=Place.WORK, role__in=OF_THE_SESSION),
    )
    moved = incoming(Entry.objects.filter(pk__in=found.values("pk")))
    ways: dict[tuple[Any, ...], RecordedMovement] = {}
    for each in recorded_movements(moved.order_by("posting_id", "line")):
        if each.posting.reverses_id is not None:
            continue
        is_cup = each.source.mix in mixes or each.destination.mix in mixes
        if each.source.place == Place.WORK or not (
            is_cup or each.destination.pour in pours or each.destination.place == Place.LOSS
        ):
            continue
        way = each.source, each.destination, each.material_id, each.role
        was = ways.get(way)
        if was is not None:
            each = replace(was, quantity=was.quantity + each.quantity, money=was.money + each.money)
        ways[way] = each
    return [each for each in ways.values() if each.quantity or each.money]


def costs_of(sessions: Sequence[Session]) -> dict[int, int]:
    """What the pours of sessions cost by now, by session: two queries."""
    work = incoming(Entry.objects.filter(place=Place.WORK, pour__session__in=sessions))
    posted = work.filter(posting=F("pour__session__posting"))
    later = Entry.objects.in_force().filter(pk__in=work.values("pk"), role__in=OF_THE_SESSION)
    restated = later.exclude(posting=F("pour__session__posting"))
    costs: Counter[int] = Counter()
    for entries in (posted, restated):
        costs.update(dict(entries.order_by().values_list("pour__session").annotate(money=Sum("money"))))
    return costs


def costs_of_pours(pours: Iterable[int]) -> dict[int, int]:
    """What sessions that stand charged to each of these pours, corrections included: one query."""
    charged = Entry.objects.in_force().filter(pour__in=list(pours), place=Place.WORK, role__in=OF_THE_SESSION)
    return dict(incoming(charged).order_by().values_list("pour_id").annotate(money=Sum("money")))


def _left_the_cup(account: MixAccount, each: RecordedMovement) -> None:
    if each.role == EntryRole.SPILLED:
        account.spilled += each.quantity
    elif each.destination.place == Place.LOSS:
        account.thrown_away += each.quantity
    elif each.destination.place == Place.MIX:
        account.in_mixes += each.quantity
    elif each.role == EntryRole.RESIDUE:
        account.residue += each.quantity
    else:
        account.poured += each.quantity


def pour_account(pour: Pour) -> PourAccount:
    """Every line that still counts of what was charged to a pour: session, finishing, packing, corrected costs."""
    charged = Entry.objects.in_force().filter(pour=pour, place=Place.WORK)
    return PourAccount(pour, recorded_movements(incoming(charged).order_by("posting_id", "line")))
