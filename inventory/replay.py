"""The ledger lived through again, posting by posting, to see whether every rule was kept at every moment.

Plain rows come in and breaks go out; nothing here reads the database. What is remembered grows with the lots and pours
that there are, not with the entries.
"""

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import NamedTuple, cast

from inventory.ledger import posting_hash
from inventory.models import Entry, Place, Posting, PostingKind
from studio.fields import LARGEST
from studio.sharing import divide_half_up

FIRST_LINK = "0" * 64
# Enough to see what happened; the count beside each rule goes on.
BREAKS_TOLD = 1_000

RULES: Mapping[str, str] = {
    "whole": "Every quantity and amount is a whole number within range",
    "sequence": "Postings are numbered 1, 2, 3 … without a gap",
    "chain": "Each posting's seal fits its contents and the posting before it",
    "time": "Recorded time never falls",
    "pairs": "Every move has a giver and a taker of the same material",
    "money": "Money sums to zero in each posting",
    "quantity": "Quantity of each material sums to zero in each posting",
    "mixes": "Every mixing cup gives out all the money it took in",
    "places": "An entry for a lot names that lot's material",
    "dates": "Nothing moves in or out of a lot before the day it came in",
    "draws": "Each draw took its share of the cost, rounded half up; the last took the rest",
    "negative": "No lot ever held less than nothing",
    "empty": "An empty lot holds no cost",
    "work": "No pour ever held less than nothing, and an empty one no cost",
    "sold": "A sold pour leaves nothing behind in unsold work",
    "reversals": "A reversal mirrors its posting, once",
    "keys": "No request was posted twice",
    "balances": "Each lot's balance is the sum of its entries",
    "identity": "Received + gains = on the shelf + in work + sold + losses, at every month's end",
    "deliveries": "Each delivery's landed costs are what its lots were charged, to the last millionth",
    "papers": "Every delivery, session, mix and stocktake stands beside its posting",
    "head": "The ledger's head names its last posting",
    "rules": "The database's own rules are in place",
    "file": "The database file is sound",
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


NOTHING = Held()


@dataclass(frozen=True, slots=True)
class Break:
    """One rule broken: where (a posting, a lot, a month) and how."""

    rule: str
    where: str
    what: str


@dataclass(slots=True)
class Tally:
    """What was looked at under each rule, and what was found broken."""

    checked: Counter[str] = field(default_factory=Counter)
    broken: Counter[str] = field(default_factory=Counter)
    breaks: list[Break] = field(default_factory=list)

    def tell(self, rule: str, where: str, what: str) -> None:
        self.broken[rule] += 1
        if len(self.breaks) < BREAKS_TOLD:
            self.breaks.append(Break(rule, where, what))


@dataclass(slots=True)
class Replay:
    """The state of the books after the postings taken so far. `reversed_numbers`: those taken back."""

    lot_facts: Mapping[int, LotFacts]
    reversed_numbers: frozenset[int]
    tally: Tally
    lots: dict[int, Held] = field(default_factory=dict)
    by_pour: dict[str, dict[int, dict[int, Held]]] = field(default_factory=dict)
    by_month: dict[tuple[int, int], Counter[str]] = field(default_factory=lambda: defaultdict(Counter))
    to_mirror: dict[int, list[tuple[object, ...]]] = field(default_factory=dict)
    coming_back: dict[tuple[int, int], str] = field(default_factory=dict)
    number: int = 0
    link: str = FIRST_LINK
    recorded_at: datetime | None = None

    def take(self, posting: PostingRow, entries: Sequence[EntryRow]) -> None:
        """Check one posting against the rules and against all that went before it."""
        where = f"posting {posting.number}"
        self._chain(posting, entries, where)
        self.tally.checked["whole"] += 2 * len(entries)
        if not _are_whole(entries):
            self.tally.tell(
                "whole", where, "an entry's line, quantity or money is not a whole number within range"
            )
            return
        balanced = self._pairs(posting, entries, where)
        self._sums(entries, balanced, where)
        self._lots(posting, entries, where)
        self._pours(posting, entries, where)
        self._reversal(posting, entries, where)
        month = self.by_month[posting.effective_on.year, posting.effective_on.month]
        for entry in entries:
            month[entry.place] += entry.money

    def _chain(self, posting: PostingRow, entries: Sequence[EntryRow], where: str) -> None:
        for rule in ("sequence", "chain", "time"):
            self.tally.checked[rule] += 1
        if posting.number != self.number + 1:
            self.tally.tell("sequence", where, f"it follows posting {self.number}")
        if posting.previous_hash != self.link:
            self.tally.tell("chain", where, "it was not sealed on the posting that now stands before it")
        # A row has what posting_hash reads of a model, under the same names.
        if posting_hash(cast(Posting, posting), cast(Iterable[Entry], entries)) != posting.hash:
            self.tally.tell("chain", where, "its contents are not what was sealed")
        if self.recorded_at is not None and posting.recorded_at < self.recorded_at:
            self.tally.tell(
                "time", where, f"recorded {posting.recorded_at:%Y-%m-%d %H:%M}, before the one before it"
            )
        self.number, self.link, self.recorded_at = posting.number, posting.hash, posting.recorded_at

    def _pairs(self, posting: PostingRow, entries: Sequence[EntryRow], where: str) -> bool:
        """Whether the posting is made of whole moves, each balanced in itself."""
        before = self.tally.broken["pairs"]
        self.tally.checked["pairs"] += len(entries)
        if posting.lines < 2 or [entry.line for entry in entries] != list(range(1, posting.lines + 1)):
            self.tally.tell("pairs", where, f"it has {len(entries)} lines where {posting.lines} were sealed")
        for gave, took in zip(entries[::2], entries[1::2], strict=False):
            if (
                gave.quantity + took.quantity
                or gave.money + took.money
                or gave.material_id != took.material_id
                or gave.line + 1 != took.line
            ):
                self.tally.tell("pairs", where, f"lines {gave.line} and {took.line} are not one move")
        return len(entries) % 2 == 0 and self.tally.broken["pairs"] == before

    def _sums(self, entries: Sequence[EntryRow], balanced: bool, where: str) -> None:
        """Sums by posting, by material (those of balanced moves cannot differ from zero) and by mixing cup."""
        self.tally.checked["money"] += 1
        self.tally.checked["quantity"] += 1
        if money := sum(entry.money for entry in entries):
            self.tally.tell("money", where, f"off by {money} millionths")
        by_material: Counter[int] = Counter()
        if not balanced:
            for entry in entries:
                by_material[entry.material_id] += entry.quantity
        for material, quantity in by_material.items():
            if quantity:
                self.tally.tell("quantity", where, f"material {material} is off by {quantity} thousandths")
        by_mix: dict[int, int] = {}
        for entry in entries:
            if entry.mix_id is not None:
                by_mix[entry.mix_id] = by_mix.get(entry.mix_id, 0) + entry.money
        self.tally.checked["mixes"] += len(by_mix)
        for mix, money in by_mix.items():
            if money:
                self.tally.tell("mixes", where, f"mix {mix} kept {-money} millionths")

    def _lots(self, posting: PostingRow, entries: Sequence[EntryRow], where: str) -> None:
        mirrors = posting.kind == PostingKind.REVERSAL
        touched = set()
        for entry in entries:
            lot, quantity = entry.lot_id, entry.quantity
            if lot is None:
                continue
            touched.add(lot)
            facts = self.lot_facts.get(lot)
            if facts is None or facts.material != entry.material_id:
                self.tally.tell("places", f"lot {lot}, {where}", f"line {entry.line} names another material")
            elif quantity and posting.effective_on < facts.received_on:
                self.tally.tell("dates", f"lot {lot}, {where}", f"before it came in on {facts.received_on}")
            held = self.lots.get(lot, NOTHING)
            if quantity < 0 and not mirrors and -quantity <= held.quantity:
                self._draw(held, entry, where)
            self.lots[lot] = Held(held.quantity + quantity, held.money + entry.money, posting.number)
        self.tally.checked["places"] += len(touched)
        self.tally.checked["dates"] += len(touched)
        self.tally.checked["negative"] += len(touched)
        self.tally.checked["empty"] += len(touched)
        for lot in touched:
            held = self.lots[lot]
            if held.quantity < 0 or held.money < 0:
                self.tally.tell(
                    "negative", f"lot {lot}, {where}", f"{held.quantity} thousandths, {held.money} millionths"
                )
            if held.quantity == 0 and held.money:
                self.tally.tell("empty", f"lot {lot}, {where}", f"{held.money} millionths and nothing in it")

    def _draw(self, held: Held, entry: EntryRow, where: str) -> None:
        """Reversals mirror and corrections move money alone; every other way out takes its share of the cost."""
        self.tally.checked["draws"] += 1
        taken = -entry.quantity
        share = held.money if taken == held.quantity else divide_half_up(held.money * taken, held.quantity)
        if -entry.money != share:
            self.tally.tell(
                "draws",
                f"lot {entry.lot_id}, {where}",
                f"line {entry.line} took {-entry.money} millionths, not {share}",
            )

    def _pours(self, posting: PostingRow, entries: Sequence[EntryRow], where: str) -> None:
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
                self.coming_back[number, material] = where
            elif held.quantity < 0 or held.money < 0 or (held.quantity == 0 and held.money):
                amounts = f"{held.quantity} thousandths, {held.money} millionths"
                self.tally.tell(
                    "work", f"pour {number} ({place}), {where}", f"material {material}: {amounts}"
                )
            if held == NOTHING:
                del self.by_pour[place][number][material]

    def _reversal(self, posting: PostingRow, entries: Sequence[EntryRow], where: str) -> None:
        if posting.number in self.reversed_numbers:
            self.to_mirror[posting.number] = _mirrored(entries, -1)
        if posting.kind != PostingKind.REVERSAL and posting.reverses_id is None:
            return
        self.tally.checked["reversals"] += 1
        wanted = self.to_mirror.pop(posting.reverses_id or 0, None)
        if posting.kind != PostingKind.REVERSAL or wanted is None:
            self.tally.tell("reversals", where, f"it cannot take back posting {posting.reverses_id}")
        elif _mirrored(entries, 1) != wanted:
            self.tally.tell("reversals", where, f"it does not mirror posting {posting.reverses_id}")
        if posting.number in self.reversed_numbers:
            self.tally.tell("reversals", where, "a reversal is itself taken back")

    def finish(self) -> None:
        """What can only be said at the end: sold pours, and the books' identity month by month."""
        for (number, material), where in self.coming_back.items():
            self.tally.tell(
                "work",
                f"pour {number} (sold), {where}",
                f"material {material}: its corrections did not come back",
            )
        for number, sold in self.by_pour.get(Place.SOLD, {}).items():
            if any(held.quantity for held in sold.values()):
                self.tally.checked["sold"] += 1
                if any(self.by_pour.get(Place.WORK, {}).get(number, {}).values()):
                    self.tally.tell("sold", f"pour {number}", "part of its cost is still in unsold work")
        so_far: Counter[str] = Counter()
        for (year, month), totals in sorted(self.by_month.items()):
            so_far.update(totals)
            self.tally.checked["identity"] += 1
            came = -so_far[Place.OUTSIDE] - so_far[Place.GAIN]
            went = so_far[Place.LOT] + so_far[Place.WORK] + so_far[Place.SOLD] + so_far[Place.LOSS]
            if came != went:
                self.tally.tell("identity", f"{year}-{month:02}", f"{came} came in, {went} is accounted for")


def _are_whole(entries: Sequence[EntryRow]) -> bool:
    # SQLite keeps whatever was forced into a column, a float or a text included.
    numbers = [number for entry in entries for number in (entry.line, entry.quantity, entry.money)]
    return {*map(type, numbers)} <= {int} and -LARGEST <= min(numbers, default=0) <= max(
        numbers, default=0
    ) <= LARGEST


def _mirrored(entries: Sequence[EntryRow], sign: int) -> list[tuple[object, ...]]:
    return [(*entry[1:8], sign * entry.quantity, sign * entry.money) for entry in entries]
