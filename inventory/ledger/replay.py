"""The ledger lived through again, posting by posting, to see whether every rule was kept at every moment.

Plain rows come in and breaks go out; nothing here reads the database. What is remembered grows with the lots and pours
that there are, not with the entries.
"""

from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from operator import add, eq
from typing import cast

from inventory.ledger.costing_methods import cost_of_draw
from inventory.ledger.findings import Tally
from inventory.ledger.hash_chain import seal_over
from inventory.ledger.ledger_rows import QUANTITY, Entries, EntryRow, LotFacts, PostingRow
from inventory.ledger.models import Place, Posting, PostingKind
from inventory.ledger.movements import sides
from studio.constraints import LARGEST
from studio.translation import _

FIRST_LINK = "0" * 64
RECEIVING = frozenset({PostingKind.DELIVERY, PostingKind.CORRECTION, PostingKind.REVERSAL})


@dataclass(slots=True)
class Held:
    """What a place holds, and the posting that last changed it."""

    quantity: int = 0
    money: int = 0
    posting: int = 0

    def in_words(self) -> str:
        return _("{quantity} thousandths, {money} millionths", quantity=self.quantity, money=self.money)


@dataclass(slots=True)
class Replay:
    """The state of the books after the postings taken so far. `reversed_numbers`: those reversed.

    What moved in each lot in each month is added up through posting `kept_through`; `out_of_order` are the lots in
    which something was dated before what had been posted earlier. `by_pour` holds what each pour has in work and in
    sold work of each material: nothing stays there for what it has none of. `early` is what moved before the day of its
    lot, which a correction of that day or a reversal has to take back.
    """

    lot_facts: Mapping[int, LotFacts]
    reversed_numbers: frozenset[int]
    tally: Tally
    kept_through: int = 0
    is_corrected: bool = False  # whether any posting so far corrects another
    moved: dict[date, dict[int, Held]] = field(default_factory=dict)
    lots: dict[int, Held] = field(default_factory=dict)
    by_pour: dict[tuple[str, int, int], Held] = field(default_factory=dict)
    by_month: dict[tuple[int, int], Counter[str]] = field(default_factory=lambda: defaultdict(Counter))
    last_days: dict[int, date] = field(default_factory=dict)
    out_of_order: set[int] = field(default_factory=set)
    to_mirror: dict[int, list[tuple[object, ...]]] = field(default_factory=dict)
    corrections: set[int] = field(default_factory=set)
    early: dict[tuple[int, date], Held] = field(default_factory=lambda: defaultdict(Held))
    number: int = 0
    link: str = FIRST_LINK
    recorded_at: datetime | None = None

    def take(self, posting: PostingRow, rows: Sequence[EntryRow]) -> None:
        """Check one posting against the rules and against all that went before it."""
        self._chain(posting, rows)
        if posting.corrects_id is not None:
            self.corrections.add(posting.number)
        self.tally.looked(2 * len(rows), "whole")
        entries = Entries.of(rows)
        if not _are_whole(entries):
            problem = _("an entry's line, quantity or money is not a whole number within range")
            self.tally.tell_posting("whole", posting.number, problem)
            return
        balanced = self._pairs(posting, entries)
        self._sums(posting, entries, balanced)
        self._lots(posting, entries)
        self._pours(posting, entries)
        self._reversal(posting, rows)
        self._months(entries)

    def _months(self, entries: Entries) -> None:
        """What came to each place in each month."""
        if len({*entries.effective_on}) == 1:  # nearly always
            day = entries.effective_on[0]
            by_place = self.by_month[day.year, day.month]
            for place, money in zip(entries.place, entries.money, strict=True):
                by_place[place] += money
            return
        for place, money, day in zip(entries.place, entries.money, entries.effective_on, strict=True):
            self.by_month[day.year, day.month][place] += money

    def _chain(self, posting: PostingRow, rows: Sequence[EntryRow]) -> None:
        self.tally.looked(1, "sequence", "chain", "time")
        if posting.number != self.number + 1:
            problem = _("it follows posting {number}", number=self.number)
            self.tally.tell_posting("sequence", posting.number, problem)
        if posting.previous_hash != self.link:
            problem = _("it was sealed on a different posting from the one now before it")
            self.tally.tell_posting("chain", posting.number, problem)
        # A row has what the seal reads of a model, under the same names.
        if seal_over(cast(Posting, posting), [row[1:] for row in rows]) != posting.hash:
            self.tally.tell_posting("chain", posting.number, _("its contents differ from what was sealed"))
        if self.recorded_at is not None and posting.recorded_at < self.recorded_at:
            recorded = f"{posting.recorded_at:%Y-%m-%d %H:%M}"
            problem = _("recorded {time}, earlier than the posting before it", time=recorded)
            self.tally.tell_posting("time", posting.number, problem)
        self.number, self.link, self.recorded_at = posting.number, posting.hash, posting.recorded_at

    def _pairs(self, posting: PostingRow, entries: Entries) -> bool:
        """Whether the posting is made of whole movements, each balanced in itself."""
        lines = entries.line
        self.tally.looked(len(lines), "pairs")
        is_numbered = posting.lines >= 2 and lines == tuple(range(1, posting.lines + 1))
        if not is_numbered:
            problem = _(
                "it has {lines} lines where {sealed} were sealed", lines=len(lines), sealed=posting.lines
            )
            self.tally.tell_posting("pairs", posting.number, problem)
        is_paired = (
            len(lines) % 2 == 0
            and eq(*sides(entries.material_id))
            and not any(map(add, *sides(entries.quantity)))
            and not any(map(add, *sides(entries.money)))
        )
        if not (is_numbered and is_paired):
            self._tell_pairs(posting.number, entries)
        return is_numbered and is_paired

    def _tell_pairs(self, number: int, entries: Entries) -> None:
        facts = zip(entries.line, entries.material_id, entries.quantity, entries.money, strict=True)
        for out, into in zip(*sides(list(facts)), strict=False):
            if into[0] != out[0] + 1 or into[1] != out[1] or into[2] + out[2] or into[3] + out[3]:
                problem = _("lines {first} and {second} do not form a movement", first=out[0], second=into[0])
                self.tally.tell_posting("pairs", number, problem)

    def _sums(self, posting: PostingRow, entries: Entries, balanced: bool) -> None:
        """Sums by posting, by material (those of balanced movements cannot differ from zero) and by mixing cup."""
        self.tally.looked(1, "money", "quantity")
        if money := sum(entries.money):
            self.tally.tell_posting("money", posting.number, _("off by {money} millionths", money=money))
        by_material: Counter[int] = Counter()
        if not balanced:
            for material, quantity in zip(entries.material_id, entries.quantity, strict=True):
                by_material[material] += quantity
        for material, quantity in by_material.items():
            if quantity:
                problem = _(
                    "material {material} is off by {quantity} thousandths",
                    material=material,
                    quantity=quantity,
                )
                self.tally.tell_posting("quantity", posting.number, problem)
        by_mix: dict[int, int] = {}
        if any(entries.mix_id):
            for mix, money in zip(entries.mix_id, entries.money, strict=True):
                if mix is not None:
                    by_mix[mix] = by_mix.get(mix, 0) + money
        self.tally.looked(len(by_mix), "mixes")
        for mix, money in by_mix.items():
            if money:
                problem = _("mix {mix} kept {money} millionths", mix=mix, money=-money)
                self.tally.tell_posting("mixes", posting.number, problem)

    def _lots(self, posting: PostingRow, entries: Entries) -> None:
        number, draws = posting.number, 0
        # Reversals mirror, and corrections change what was drawn before; all else takes its share.
        mirrors = posting.kind in (PostingKind.REVERSAL, PostingKind.CORRECTION)
        is_kept = number <= self.kept_through
        touched = {}
        month_of: date | None = None
        lots, lot_facts, last_days, day = self.lots, self.lot_facts, self.last_days, posting.effective_on
        rows = zip(
            entries.line,
            entries.lot_id,
            entries.material_id,
            entries.quantity,
            entries.money,
            entries.effective_on,
            strict=True,
        )
        for line, lot, material, quantity, money, on in rows:
            if lot is None:
                continue
            facts = lot_facts.get(lot)
            if facts is None or facts[0] != material or on != day or on < facts[1]:
                self._place(posting, line, lot, (material, quantity, on))
            touched[lot] = held = lots.get(lot) or lots.setdefault(lot, Held())
            if 0 < -quantity <= held.quantity and not mirrors:
                draws += 1
                if (share := cost_of_draw(held.quantity, held.money, -quantity)) != -money:
                    problem = _(
                        "line {line} took {money} millionths, not {share}",
                        line=line,
                        money=-money,
                        share=share,
                    )
                    self.tally.tell_lot("draws", lot, number, problem)
            if on < last_days.get(lot, on):
                self.out_of_order.add(lot)
            else:
                last_days[lot] = on
            held.quantity += quantity
            held.money += money
            held.posting = number
            if is_kept:
                if on != month_of:
                    month_of, month = on, self.moved.setdefault(on.replace(day=1), {})
                moved = month.get(lot) or month.setdefault(lot, Held())
                moved.quantity += quantity
                moved.money += money
        self.tally.looked(len(touched), "places", "dates", "negative", "empty")
        self.tally.looked(draws, "draws")
        self._left_in(touched, number)

    def _place(self, posting: PostingRow, line: int, lot: int, moved: tuple[int, int, date]) -> None:
        """A movement of a lot names its material, and stands on its posting's day, not before the lot came in.

        What corrections move stands on the days of what they correct.
        """
        material, quantity, on = moved
        facts, rule = self.lot_facts.get(lot), "dates"
        if facts is None or facts.material != material:
            rule, problem = "places", _("line {line} names another material", line=line)
        elif quantity and on < facts.received_on:
            if posting.kind in RECEIVING or posting.number in self.reversed_numbers:
                early = self.early[lot, on]
                early.quantity, early.posting = early.quantity + quantity, posting.number
                return
            problem = _("before it came in on {day}", day=facts.received_on)
        elif (
            quantity
            and on != posting.effective_on
            and self.corrections.isdisjoint({posting.number, posting.reverses_id})
        ):
            problem = _("line {line} is not dated as its posting", line=line)
        else:
            return
        self.tally.tell_lot(rule, lot, posting.number, problem)

    def _left_in(self, touched: Mapping[int, Held], number: int) -> None:
        """What the lots that a posting touched hold after it."""
        for lot, held in touched.items():
            if held.quantity < 0 or held.money < 0:
                self.tally.tell_lot("negative", lot, number, held.in_words())
            if held.quantity == 0 and held.money:
                problem = _("{money} millionths with no quantity", money=held.money)
                self.tally.tell_lot("empty", lot, number, problem)

    def _pours(self, posting: PostingRow, entries: Entries) -> None:
        """A pour holds no less than nothing, and no money without quantity."""
        if entries.pour_id.count(None) == len(entries.pour_id):
            return
        by_pour = self.by_pour
        touched = {}
        rows = zip(
            entries.place, entries.pour_id, entries.material_id, entries.quantity, entries.money, strict=True
        )
        for kind, pour, material, quantity, money in rows:
            if pour is not None:
                place = kind, pour, material
                touched[place] = held = by_pour.get(place) or by_pour.setdefault(place, Held())
                held.quantity += quantity
                held.money += money
        self.tally.looked(len(touched), "work")
        for (kind, pour, material), held in touched.items():
            if held.quantity > 0 and held.money >= 0:
                continue
            if held.quantity or held.money:
                problem = _(
                    "material {material}: {quantity} thousandths, {money} millionths",
                    material=material,
                    quantity=held.quantity,
                    money=held.money,
                )
                self.tally.tell_pour("work", pour, kind, posting.number, problem)
            else:
                del by_pour[kind, pour, material]

    def _reversal(self, posting: PostingRow, rows: Sequence[EntryRow]) -> None:
        self.is_corrected |= posting.corrects_id is not None
        if posting.number in self.reversed_numbers:
            self.to_mirror[posting.number] = _mirrored(rows, -1)
        if posting.kind != PostingKind.REVERSAL and posting.reverses_id is None:
            return
        self.tally.checked["reversals"] += 1
        wanted = self.to_mirror.pop(posting.reverses_id or 0, None)
        if posting.kind != PostingKind.REVERSAL or wanted is None:
            problem = _("it cannot reverse posting {number}", number=posting.reverses_id)
            self.tally.tell_posting("reversals", posting.number, problem)
        elif _mirrored(rows[: len(wanted)], 1) != wanted or (
            any(row[QUANTITY] for row in rows[len(wanted) :]) and not self.is_corrected
        ):
            problem = _("it does not mirror posting {number}", number=posting.reverses_id)
            self.tally.tell_posting("reversals", posting.number, problem)
        if posting.number in self.reversed_numbers:
            self.tally.tell_posting("reversals", posting.number, _("a reversal was itself reversed"))

    def finish(self) -> None:
        """What can only be said at the end: sold pours, and the books' identity month by month."""
        self._sold()
        for (lot, _day), early in self.early.items():
            if early.quantity:
                problem = _("before it came in on {day}", day=self.lot_facts[lot].received_on)
                self.tally.tell_lot("dates", lot, early.posting, problem)
        so_far: Counter[str] = Counter()
        for (year, month), totals in sorted(self.by_month.items()):
            so_far.update(totals)
            self.tally.checked["identity"] += 1
            came = -so_far[Place.OUTSIDE] - so_far[Place.GAIN]
            went = so_far[Place.LOT] + so_far[Place.WORK] + so_far[Place.SOLD] + so_far[Place.LOSS]
            if came != went:
                problem = _("{came} came in, {went} is accounted for", came=came, went=went)
                self.tally.tell("identity", f"{year}-{month:02}", problem)

    def _sold(self) -> None:
        work, sales = Place.WORK.value, Place.SOLD.value  # looked up once: there are many pours
        in_work = {pour for place, pour, _material in self.by_pour if place == work}
        sold = {
            pour
            for (place, pour, _material), held in self.by_pour.items()
            if place == sales and held.quantity
        }
        self.tally.looked(len(sold), "sold")
        for pour in sorted(sold & in_work):
            problem = _("part of its cost is still in unsold work")
            self.tally.tell("sold", _("pour {pour}", pour=pour), problem)


def _are_whole(entries: Entries) -> bool:
    # SQLite keeps whatever was forced into a column, a float or a text included.
    numbers = (*entries.line, *entries.quantity, *entries.money)
    return {*map(type, numbers)} <= {int} and -LARGEST <= min(numbers, default=0) <= max(
        numbers, default=0
    ) <= LARGEST


def _mirrored(rows: Sequence[EntryRow], sign: int) -> list[tuple[object, ...]]:
    return [
        (*facts, sign * quantity, sign * money) for _posting, *facts, quantity, money, _role, _day in rows
    ]
