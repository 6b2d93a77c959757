"""The ledger lived through again, posting by posting, to see whether every rule was kept at every moment.

Plain rows come in and breaks go out; nothing here reads the database. What is remembered grows with the lots and pours
that there are, not with the entries.
"""

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import NamedTuple, cast

from inventory.bookkeeping.breaks import Tally
from inventory.ledger import posting_hash
from inventory.models import Entry, Place, Posting, PostingKind
from studio.fields import LARGEST
from studio.figures.sharing import divide_half_up
from studio.wording import _, noop

FIRST_LINK = "0" * 64

RULES: Mapping[str, str] = {
    "whole": noop("Every quantity and amount is a whole number within range"),
    "sequence": noop("Postings are numbered 1, 2, 3 … without a gap"),
    "chain": noop("Each posting's seal fits its contents and the posting before it"),
    "time": noop("Recorded time never falls"),
    "pairs": noop("Every move has a giver and a taker of the same material"),
    "money": noop("Money sums to zero in each posting"),
    "quantity": noop("Quantity of each material sums to zero in each posting"),
    "mixes": noop("Every mixing cup gives out all the money it took in"),
    "places": noop("An entry for a lot names that lot's material"),
    "dates": noop("Nothing moves in or out of a lot before the day it came in"),
    "draws": noop("Each draw took its share of the cost, rounded half up; the last took the rest"),
    "negative": noop("No lot ever held less than nothing"),
    "empty": noop("An empty lot holds no cost"),
    "work": noop("No pour ever held less than nothing, and an empty one no cost"),
    "sold": noop("A sold pour leaves nothing behind in unsold work"),
    "reversals": noop("A reversal mirrors its posting, once"),
    "keys": noop("No request was posted twice"),
    "balances": noop("Each lot's balance is the sum of its entries"),
    "identity": noop("Received + gains = on the shelf + in work + sold + losses, at every month's end"),
    "deliveries": noop("Each delivery's landed costs are what its lots were charged, to the last millionth"),
    "papers": noop("Every delivery, session, mix and stocktake stands beside its posting"),
    "month_ends": noop("What is kept of past months' ends is what the entries sum to"),
    "head": noop("The ledger's head names its last posting"),
    "rules": noop("The database's own rules are in place"),
    "file": noop("The database file is sound"),
}


class EntryRow(NamedTuple):
    posting_id: int
    line: int
    place: str
    material_id: int
    lot_id: int | None
    mix_id: int | None
    pour_id: int | None
    cause_id: int | None
    quantity: int
    money: int
    role: str


class PostingRow(NamedTuple):
    number: int
    kind: str
    effective_on: date
    recorded_at: datetime
    recorded_by_id: int
    note: str
    key: str
    fingerprint: str
    reverses_id: int | None
    lines: int
    previous_hash: str
    hash: str


class LotFacts(NamedTuple):
    material: int
    received_on: date


class Held(NamedTuple):
    """What a place holds, and the posting that last changed it."""

    quantity: int = 0
    money: int = 0
    posting: int = 0

    def in_words(self) -> str:
        return _("{quantity} thousandths, {money} millionths", quantity=self.quantity, money=self.money)


NOTHING = Held()


@dataclass(slots=True)
class Replay:
    """The state of the books after the postings taken so far. `reversed_numbers`: those taken back.

    What moved in each lot in each month is added up through posting `kept_through`.
    """

    lot_facts: Mapping[int, LotFacts]
    reversed_numbers: frozenset[int]
    tally: Tally
    kept_through: int = 0
    moved: dict[tuple[date, int], tuple[int, int]] = field(default_factory=dict)
    lots: dict[int, Held] = field(default_factory=dict)
    by_pour: dict[str, dict[int, dict[int, Held]]] = field(default_factory=dict)
    by_month: dict[tuple[int, int], Counter[str]] = field(default_factory=lambda: defaultdict(Counter))
    to_mirror: dict[int, list[tuple[object, ...]]] = field(default_factory=dict)
    coming_back: dict[tuple[int, int], int] = field(default_factory=dict)
    number: int = 0
    link: str = FIRST_LINK
    recorded_at: datetime | None = None

    def take(self, posting: PostingRow, entries: Sequence[EntryRow]) -> None:
        """Check one posting against the rules and against all that went before it."""
        self._chain(posting, entries)
        self.tally.checked["whole"] += 2 * len(entries)
        if not _are_whole(entries):
            told = _("an entry's line, quantity or money is not a whole number within range")
            self.tally.tell_posting("whole", posting.number, told)
            return
        balanced = self._pairs(posting, entries)
        self._sums(posting, entries, balanced)
        self._lots(posting, entries)
        self._pours(posting, entries)
        self._reversal(posting, entries)
        month = self.by_month[posting.effective_on.year, posting.effective_on.month]
        for entry in entries:
            month[entry.place] += entry.money

    def _chain(self, posting: PostingRow, entries: Sequence[EntryRow]) -> None:
        for rule in ("sequence", "chain", "time"):
            self.tally.checked[rule] += 1
        if posting.number != self.number + 1:
            told = _("it follows posting {number}", number=self.number)
            self.tally.tell_posting("sequence", posting.number, told)
        if posting.previous_hash != self.link:
            told = _("it was not sealed on the posting that now stands before it")
            self.tally.tell_posting("chain", posting.number, told)
        # A row has what posting_hash reads of a model, under the same names.
        if posting_hash(cast(Posting, posting), cast(Iterable[Entry], entries)) != posting.hash:
            self.tally.tell_posting("chain", posting.number, _("its contents are not what was sealed"))
        if self.recorded_at is not None and posting.recorded_at < self.recorded_at:
            recorded = f"{posting.recorded_at:%Y-%m-%d %H:%M}"
            told = _("recorded {time}, before the one before it", time=recorded)
            self.tally.tell_posting("time", posting.number, told)
        self.number, self.link, self.recorded_at = posting.number, posting.hash, posting.recorded_at

    def _pairs(self, posting: PostingRow, entries: Sequence[EntryRow]) -> bool:
        """Whether the posting is made of whole moves, each balanced in itself."""
        before = self.tally.broken["pairs"]
        self.tally.checked["pairs"] += len(entries)
        if posting.lines < 2 or [entry.line for entry in entries] != list(range(1, posting.lines + 1)):
            told = _(
                "it has {lines} lines where {sealed} were sealed", lines=len(entries), sealed=posting.lines
            )
            self.tally.tell_posting("pairs", posting.number, told)
        for gave, took in zip(entries[::2], entries[1::2], strict=False):
            if (
                gave.quantity + took.quantity
                or gave.money + took.money
                or gave.material_id != took.material_id
                or gave.line + 1 != took.line
            ):
                told = _("lines {giver} and {taker} are not one move", giver=gave.line, taker=took.line)
                self.tally.tell_posting("pairs", posting.number, told)
        return len(entries) % 2 == 0 and self.tally.broken["pairs"] == before

    def _sums(self, posting: PostingRow, entries: Sequence[EntryRow], balanced: bool) -> None:
        """Sums by posting, by material (those of balanced moves cannot differ from zero) and by mixing cup."""
        self.tally.checked["money"] += 1
        self.tally.checked["quantity"] += 1
        if money := sum(entry.money for entry in entries):
            self.tally.tell_posting("money", posting.number, _("off by {money} millionths", money=money))
        by_material: Counter[int] = Counter()
        if not balanced:
            for entry in entries:
                by_material[entry.material_id] += entry.quantity
        for material, quantity in by_material.items():
            if quantity:
                told = _(
                    "material {material} is off by {quantity} thousandths",
                    material=material,
                    quantity=quantity,
                )
                self.tally.tell_posting("quantity", posting.number, told)
        by_mix: dict[int, int] = {}
        for entry in entries:
            if entry.mix_id is not None:
                by_mix[entry.mix_id] = by_mix.get(entry.mix_id, 0) + entry.money
        self.tally.checked["mixes"] += len(by_mix)
        for mix, money in by_mix.items():
            if money:
                told = _("mix {mix} kept {money} millionths", mix=mix, money=-money)
                self.tally.tell_posting("mixes", posting.number, told)

    def _lots(self, posting: PostingRow, entries: Sequence[EntryRow]) -> None:
        mirrors = posting.kind == PostingKind.REVERSAL
        month = posting.effective_on.replace(day=1) if posting.number <= self.kept_through else None
        touched = set()
        for entry in entries:
            lot, quantity = entry.lot_id, entry.quantity
            if lot is None:
                continue
            touched.add(lot)
            facts = self.lot_facts.get(lot)
            if facts is None or facts.material != entry.material_id:
                told = _("line {line} names another material", line=entry.line)
                self.tally.tell_lot("places", lot, posting.number, told)
            elif quantity and posting.effective_on < facts.received_on:
                told = _("before it came in on {day}", day=facts.received_on)
                self.tally.tell_lot("dates", lot, posting.number, told)
            held = self.lots.get(lot, NOTHING)
            if quantity < 0 and not mirrors and -quantity <= held.quantity:
                self._draw(held, entry)
            self.lots[lot] = Held(held.quantity + quantity, held.money + entry.money, posting.number)
            if month:
                so_far = self.moved.get((month, lot), (0, 0))
                self.moved[month, lot] = (so_far[0] + quantity, so_far[1] + entry.money)
        self.tally.checked["places"] += len(touched)
        self.tally.checked["dates"] += len(touched)
        self.tally.checked["negative"] += len(touched)
        self.tally.checked["empty"] += len(touched)
        for lot in touched:
            held = self.lots[lot]
            if held.quantity < 0 or held.money < 0:
                self.tally.tell_lot("negative", lot, posting.number, held.in_words())
            if held.quantity == 0 and held.money:
                told = _("{money} millionths and nothing in it", money=held.money)
                self.tally.tell_lot("empty", lot, posting.number, told)

    def _draw(self, held: Held, entry: EntryRow) -> None:
        """Reversals mirror and corrections move money alone; every other way out takes its share of the cost."""
        self.tally.checked["draws"] += 1
        taken = -entry.quantity
        share = held.money if taken == held.quantity else divide_half_up(held.money * taken, held.quantity)
        if -entry.money != share:
            told = _(
                "line {line} took {money} millionths, not {share}",
                line=entry.line,
                money=-entry.money,
                share=share,
            )
            self.tally.tell_lot("draws", entry.lot_id, entry.posting_id, told)

    def _pours(self, posting: PostingRow, entries: Sequence[EntryRow]) -> None:
        """A sale taken back leaves what corrections cost since on the sold pour; the next posting brings it back."""
        due, self.coming_back = self.coming_back, {}
        touched = {(Place.SOLD.value, pour, material) for pour, material in due}
        for entry in entries:
            if entry.pour_id is None:
                continue
            touched.add((entry.place, entry.pour_id, entry.material_id))
            pour = self.by_pour.setdefault(entry.place, {}).setdefault(entry.pour_id, {})
            held = pour.get(entry.material_id, NOTHING)
            pour[entry.material_id] = Held(held.quantity + entry.quantity, held.money + entry.money)
        self.tally.checked["work"] += len(touched)
        for place, number, material in touched:
            held = self.by_pour[place][number][material]
            is_left = place == Place.SOLD and held.quantity == 0 and (number, material) not in due
            if is_left and held.money and posting.kind == PostingKind.REVERSAL:
                self.coming_back[number, material] = posting.number
            elif held.quantity < 0 or held.money < 0 or (held.quantity == 0 and held.money):
                told = _(
                    "material {material}: {quantity} thousandths, {money} millionths",
                    material=material,
                    quantity=held.quantity,
                    money=held.money,
                )
                self.tally.tell_pour("work", number, place, posting.number, told)
            if held == NOTHING:
                del self.by_pour[place][number][material]

    def _reversal(self, posting: PostingRow, entries: Sequence[EntryRow]) -> None:
        if posting.number in self.reversed_numbers:
            self.to_mirror[posting.number] = _mirrored(entries, -1)
        if posting.kind != PostingKind.REVERSAL and posting.reverses_id is None:
            return
        self.tally.checked["reversals"] += 1
        wanted = self.to_mirror.pop(posting.reverses_id or 0, None)
        if posting.kind != PostingKind.REVERSAL or wanted is None:
            told = _("it cannot take back posting {number}", number=posting.reverses_id)
            self.tally.tell_posting("reversals", posting.number, told)
        elif _mirrored(entries, 1) != wanted:
            told = _("it does not mirror posting {number}", number=posting.reverses_id)
            self.tally.tell_posting("reversals", posting.number, told)
        if posting.number in self.reversed_numbers:
            self.tally.tell_posting("reversals", posting.number, _("a reversal is itself taken back"))

    def finish(self) -> None:
        """What can only be said at the end: sold pours, and the books' identity month by month."""
        for (number, material), posting in self.coming_back.items():
            told = _("material {material}: its corrections did not come back", material=material)
            self.tally.tell_pour("work", number, Place.SOLD.value, posting, told)
        for number, sold in self.by_pour.get(Place.SOLD, {}).items():
            if any(held.quantity for held in sold.values()):
                self.tally.checked["sold"] += 1
                if any(self.by_pour.get(Place.WORK, {}).get(number, {}).values()):
                    told = _("part of its cost is still in unsold work")
                    self.tally.tell("sold", _("pour {pour}", pour=number), told)
        so_far: Counter[str] = Counter()
        for (year, month), totals in sorted(self.by_month.items()):
            so_far.update(totals)
            self.tally.checked["identity"] += 1
            came = -so_far[Place.OUTSIDE] - so_far[Place.GAIN]
            went = so_far[Place.LOT] + so_far[Place.WORK] + so_far[Place.SOLD] + so_far[Place.LOSS]
            if came != went:
                told = _("{came} came in, {went} is accounted for", came=came, went=went)
                self.tally.tell("identity", f"{year}-{month:02}", told)


def _are_whole(entries: Sequence[EntryRow]) -> bool:
    # SQLite keeps whatever was forced into a column, a float or a text included.
    numbers = [number for entry in entries for number in (entry.line, entry.quantity, entry.money)]
    return {*map(type, numbers)} <= {int} and -LARGEST <= min(numbers, default=0) <= max(
        numbers, default=0
    ) <= LARGEST


def _mirrored(entries: Sequence[EntryRow], sign: int) -> list[tuple[object, ...]]:
    return [(*entry[1:8], sign * entry.quantity, sign * entry.money) for entry in entries]
