"""A made-up studio's ten years, told from a seed: deliveries, home-made medium, sessions, sales, spills, reversals.

Lots live as they do on a real shelf: each material is drawn from one bottle until that is empty, and the next
delivery comes when it is needed. The story is plain rows; `loading` puts them into a database.
"""

from collections import Counter, defaultdict, deque
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta
from random import Random

from django.db.models import Model

from inventory.ledger.accounts import (
    OUTSIDE,
    AccountReference,
    cost_of_sales,
    disposal,
    lot_account,
    mix_account,
    work_in_progress,
)
from inventory.ledger.costing_methods import cost_of_draw
from inventory.ledger.ledger_rows import EntryRow, PostingRow
from inventory.ledger.models import Lot, PostingKind
from inventory.purchasing.models import Delivery, DeliveryLine
from inventory.recipes.models import Mix
from inventory.sessions.models import Pour, Session

FIRST_DAY = date(2015, 1, 5)
FIRST_EVENING = datetime.combine(FIRST_DAY, time(18), UTC)
DAYS = 3_650
LAST_DAY = FIRST_DAY + timedelta(days=DAYS)
SURFACES, MADE, BOUGHT = 20, 10, 270
MATERIALS = SURFACES + MADE + BOUGHT
LOTS = 5_000
DOSES = 3
PACK = 1_000_000
CANVAS = 1_000
AREA = 1_116_000


@dataclass
class Bottle:
    """One lot, and what is left in it."""

    lot: int
    quantity: int
    money: int


@dataclass
class Event:
    """One posting with its entries, and the rows that stand beside it."""

    posting: PostingRow
    entries: list[EntryRow]
    beside: list[Model]


@dataclass
class TenYears:
    """The story: about so many entries, in at most 5,000 lots. Materials are numbered 1 to 300.

    The first are surfaces, the next are made here by a recipe of their own number, the rest is bought. The causes
    are numbered as the database's first rows number them.
    """

    entries: int
    seed: int
    owner: int
    supplier: int
    technique: int
    reason: int
    _told: int = 0
    _number: int = 0
    _shelf: dict[int, deque[Bottle]] = field(default_factory=lambda: defaultdict(deque))
    _in_work: list[tuple[int, list[tuple[int, int, int]]]] = field(default_factory=list)
    _rows: Counter[str] = field(default_factory=Counter)
    _recorded_at: datetime = FIRST_EVENING

    def __post_init__(self) -> None:
        self.chance = Random(self.seed)
        lots = min(LOTS, self.entries // 20)
        draws = (self.entries - 2 * lots) // 3  # each draw is two entries, and half of them are sold again
        self.draws_a_lot = max(2, draws // lots)
        self.surfaces = range(1, SURFACES + 1)
        self.made = range(SURFACES + 1, SURFACES + MADE + 1)
        self.liquids = range(SURFACES + 1, MATERIALS + 1)

    def events(self) -> Iterator[Event]:
        """Everything that happened, in order, until there are as many entries as were asked for."""
        while self._told < self.entries:
            pours = [(self._a_surface(), self._some_doses()) for _ in range(self.chance.randint(2, 6))]
            yield from self._restock(pours)
            yield self._session(pours)
            if len(self._in_work) > 20:
                yield self._sale()
            if self.chance.random() < 0.05:
                spilled = self._spill()
                yield spilled
                if self.chance.random() < 0.2:
                    yield self._reversal(spilled)

    @property
    def day(self) -> date:
        return FIRST_DAY + timedelta(days=min(DAYS, DAYS * self._told // self.entries))

    def _a_surface(self) -> int:
        return self.chance.choice(self.surfaces)

    def _some_doses(self) -> list[tuple[int, int]]:
        usual = PACK // self.draws_a_lot
        return [
            (material, self.chance.randint(usual // 2, usual * 3 // 2))
            for material in self.chance.sample(self.liquids, DOSES)
        ]

    def _restock(self, pours: Sequence[tuple[int, list[tuple[int, int]]]]) -> Iterator[Event]:
        """Buy or make what the session needs and the shelf does not hold."""
        need: Counter[int] = Counter()
        for surface, doses in pours:
            need[surface] += CANVAS
            for material, quantity in doses:
                need[material] += quantity
        batches = [made for made in self.made for _ in range(_packs(need[made] - self._held(made), of=PACK))]
        for made in batches:
            for material in self._recipe(made):
                need[material] += PACK // 2
        bought = [material for material in need if material not in self.made]
        short = [material for material in bought if self._held(material) < need[material]]
        if short:
            yield self._delivery({material: need[material] - self._held(material) for material in short})
        for made in batches:
            yield self._batch(made)

    def _recipe(self, made: int) -> tuple[int, int]:
        """Each made material takes half a pack each of two bought ones."""
        return MATERIALS - made, MATERIALS - made - MADE

    def _held(self, material: int) -> int:
        return sum(bottle.quantity for bottle in self._shelf[material])

    def _delivery(self, short: Mapping[int, int]) -> Event:
        """Whole packs of everything that is short, each a lot."""
        moves, lines = [], list[Model]()
        number, delivery = self._number + 1, self._next("delivery")
        facts = {"supplier_id": self.supplier, "currency": "GBP", "received_on": self.day}
        paper = Delivery(pk=delivery, posting_id=number, reference=f"Invoice {delivery}", **facts)
        for material in [m for m, lacking in short.items() for _ in range(_packs(lacking, of=self._pack(m)))]:
            pack, price = self._pack(material), self.chance.randint(4_000_000, 25_000_000)
            lot = self._lot(material, Lot.Origin.DELIVERY, pack, price)
            moves.append((OUTSIDE, lot_account(lot.pk), material, pack, price))
            line = {"delivery_id": delivery, "lot": lot, "quantity": pack, "price": price, "landed": price}
            lines += [lot, DeliveryLine(pk=self._next("line"), **line)]
        paper.invoiced = paper.paid = sum(price for *_move, price in moves)
        return self._event(PostingKind.DELIVERY, moves, [paper, *lines])

    def _pack(self, material: int) -> int:
        return CANVAS * self.draws_a_lot if material in self.surfaces else PACK

    def _batch(self, made: int) -> Event:
        mix, taken = self._next("mix"), 0
        moves = []
        for material in self._recipe(made):
            for bottle, quantity, money in self._draw(material, PACK // 2):
                moves.append((lot_account(bottle), mix_account(mix), material, quantity, money))
                taken += money
        lot = self._lot(made, Lot.Origin.MIX, PACK, taken)
        moves.append((mix_account(mix), lot_account(lot.pk), made, PACK, taken))
        facts = {"version_id": made, "mixed_on": self.day, "posting_id": self._number + 1}
        return self._event(PostingKind.MIX, moves, [lot, Mix(pk=mix, lot=lot, **facts)])

    def _session(self, pours: Sequence[tuple[int, list[tuple[int, int]]]]) -> Event:
        session, moves = self._next("session"), []
        title = f"Session {session}"
        rows: list[Model] = [
            Session(pk=session, held_on=self.day, title=title, minutes=90, posting_id=self._number + 1)
        ]
        for number, (surface, doses) in enumerate(pours, start=1):
            pour, held = self._next("pour"), list[tuple[int, int, int]]()
            for material, quantity, role in [
                (surface, CANVAS, "surface"),
                *((*dose, "poured") for dose in doses),
            ]:
                for bottle, part, money in self._draw(material, quantity):
                    moves.append((lot_account(bottle), work_in_progress(pour), material, part, money, role))
                    held.append((material, part, money))
            rows.append(
                Pour(
                    pk=pour, session_id=session, number=number, surface_id=surface, area=AREA,
                    technique_id=self.technique, poured=sum(quantity for _, quantity in doses),
                )
            )  # fmt: skip
            self._in_work.append((pour, held))
        return self._event(PostingKind.SESSION, moves, rows)

    def _sale(self) -> Event:
        """A stall day: half of what stands in work is sold."""
        going = self._in_work[: len(self._in_work) // 2]
        self._in_work = []  # the other half is never sold
        moves = [
            (work_in_progress(pour), cost_of_sales(pour), material, quantity, money)
            for pour, held in going
            for material, quantity, money in _by_material(held)
        ]
        return self._event(PostingKind.SALE, moves, [])

    def _spill(self) -> Event:
        material = self.chance.choice([m for m in self.liquids if self._held(m) > PACK // 20])
        takes = self._draw(material, PACK // 100)
        moves = [
            (lot_account(lot), disposal(self.reason), material, quantity, money)
            for lot, quantity, money in takes
        ]
        return self._event(PostingKind.WRITE_OFF, moves, [])

    def _reversal(self, of: Event) -> Event:
        moves = []
        for gave, took in zip(of.entries[::2], of.entries[1::2], strict=True):
            giver, taker = lot_account(gave.lot_id or 0), disposal(self.reason)
            moves.append((giver, taker, took.material_id, -took.quantity, -took.money))
            self._put_back(took.material_id, gave.lot_id or 0, took.quantity, took.money)
        return self._event(PostingKind.REVERSAL, moves, [], reverses=of.posting.number)

    def _draw(self, material: int, quantity: int) -> list[tuple[int, int, int]]:
        """Take from the oldest bottle on: (lot, quantity, money) for each that gives something."""
        takes, bottles = [], self._shelf[material]
        while quantity:
            bottle = bottles[0]
            part = min(quantity, bottle.quantity)
            money = cost_of_draw(bottle.quantity, bottle.money, part)
            takes.append((bottle.lot, part, money))
            bottle.quantity, bottle.money, quantity = (
                bottle.quantity - part,
                bottle.money - money,
                quantity - part,
            )
            if not bottle.quantity:
                bottles.popleft()
        return takes

    def _put_back(self, material: int, lot: int, quantity: int, money: int) -> None:
        for bottle in self._shelf[material]:
            if bottle.lot == lot:
                bottle.quantity, bottle.money = bottle.quantity + quantity, bottle.money + money
                return
        self._shelf[material].appendleft(Bottle(lot, quantity, money))

    def _lot(self, material: int, origin: str, quantity: int, money: int) -> Lot:
        lot = Lot(pk=self._next("lot"), material_id=material, origin=origin, received_on=self.day)
        self._shelf[material].append(Bottle(lot.pk, quantity, money))
        return lot

    def _next(self, kind: str) -> int:
        self._rows[kind] += 1
        return self._rows[kind]

    def _event(
        self,
        kind: str,
        moves: Sequence[
            tuple[AccountReference, AccountReference, int, int, int]
            | tuple[AccountReference, AccountReference, int, int, int, str]
        ],
        beside: list[Model],
        reverses: int | None = None,
    ) -> Event:
        day = self.day
        self._number += 1
        entries: list[EntryRow] = []
        for giver, taker, material, quantity, money, *role in moves:
            for spot, sign in ((giver, -1), (taker, 1)):
                where = spot.place, material, spot.lot, spot.mix, spot.pour, spot.reason
                amounts = sign * quantity, sign * money
                entries.append(EntryRow(self._number, len(entries) + 1, *where, *amounts, "".join(role), day))
        self._told += len(entries)
        self._recorded_at = max(
            datetime.combine(day, time(18), UTC), self._recorded_at + timedelta(seconds=1)
        )
        posting = PostingRow(
            number=self._number, kind=kind, effective_on=day, recorded_at=self._recorded_at,
            recorded_by_id=self.owner, note="", key=f"request {self._number}", fingerprint="0" * 64,
            reverses_id=reverses, corrects_id=None, confirmed=[], lines=len(entries), previous_hash="", hash="",
        )  # fmt: skip
        return Event(posting, entries, beside)


def _packs(quantity: int, *, of: int) -> int:
    """How many whole packs a quantity takes; none for what is there already."""
    return max(0, -(-quantity // of))


def _by_material(held: Sequence[tuple[int, int, int]]) -> list[tuple[int, int, int]]:
    """What a pour holds of each material, whichever bottles it came from."""
    totals: dict[int, tuple[int, int]] = {}
    for material, quantity, money in held:
        before = totals.get(material, (0, 0))
        totals[material] = before[0] + quantity, before[1] + money
    return [(material, quantity, money) for material, (quantity, money) in totals.items()]
