"""Movements: so much of one material and its money, from one account to another. Only here are two entries paired.

A movement is two entries of its posting: the source's on an odd line and the destination's on the next, each the
other's opposite. Quantities are thousandths of the material's base unit, money millionths of the currency unit.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Protocol, TypeVar

from django.db.models import Exists, F, OuterRef, QuerySet, Subquery

from inventory.ledger.account_names import AccountNames
from inventory.ledger.accounts import AccountReference
from inventory.ledger.hash_chain import Line
from inventory.ledger.models import Entry, Lot, Posting
from inventory.materials.models import Material

LATEST = 20


class EntryFacts(Protocol):
    """What an entry says, as a row of the model or as a line of a draft."""

    @property
    def line(self) -> int: ...
    @property
    def place(self) -> str: ...
    @property
    def material_id(self) -> int: ...
    @property
    def lot_id(self) -> int | None: ...
    @property
    def mix_id(self) -> int | None: ...
    @property
    def pour_id(self) -> int | None: ...
    @property
    def reason_id(self) -> int | None: ...
    @property
    def quantity(self) -> int: ...
    @property
    def money(self) -> int: ...
    @property
    def role(self) -> str: ...
    @property
    def effective_on(self) -> date: ...


Entries = TypeVar("Entries")


@dataclass(frozen=True, slots=True)
class Movement:
    """So much of a material and its money, from one account to another; below zero when it is reversed."""

    source: AccountReference
    destination: AccountReference
    material_id: int
    quantity: int
    money: int
    role: str
    effective_on: date

    def as_entries(self, position: int) -> tuple[Line, Line]:
        """The two lines of the movement at a position in its posting, counted from 1."""
        line = 2 * position - 1
        return self._entry(line, self.source, -1), self._entry(line + 1, self.destination, 1)

    def _entry(self, line: int, account: AccountReference, sign: int) -> Line:
        return Line(
            line=line,
            place=account.place.value,
            material_id=self.material_id,
            lot_id=account.lot,
            mix_id=account.mix,
            pour_id=account.pour,
            reason_id=account.reason,
            quantity=sign * self.quantity,
            money=sign * self.money,
            role=self.role,
            effective_on=self.effective_on,
        )


def entries_of(movements: Iterable[Movement]) -> list[Line]:
    """The entries of a posting that makes these movements, in their order."""
    return [line for position, each in enumerate(movements, start=1) for line in each.as_entries(position)]


def sides(entries: Sequence[Entries]) -> tuple[Sequence[Entries], Sequence[Entries]]:
    """A whole posting's entries (or one fact of each) by lines: those of the sources, those of the destinations."""
    return entries[::2], entries[1::2]


def pair(entries: Sequence[Entries]) -> list[tuple[Entries, Entries]]:
    """A whole posting's entries as (source, destination). Raises ValueError for an odd number of them."""
    return list(zip(*sides(entries), strict=True))


def counterpart_of(line: int) -> int:
    """The line of a movement's other entry."""
    return line + 1 if line % 2 else line - 1


def movements_of(entries: Sequence[EntryFacts]) -> list[Movement]:
    """A whole posting's entries, in the order of lines, as movements."""
    return [
        Movement(
            AccountReference.of(source),
            AccountReference.of(destination),
            destination.material_id,
            destination.quantity,
            destination.money,
            destination.role,
            destination.effective_on,
        )
        for source, destination in pair(entries)
    ]


@dataclass(frozen=True, slots=True)
class RecordedMovement(Movement):
    """A movement of the ledger, with the rows that reports read of it. `line` is its source's."""

    posting: Posting
    line: int
    material: Material
    source_lot: Lot | None


def posted_movements(posting: Posting) -> list[RecordedMovement]:
    """A posting movement by movement, in its own order: one query."""
    entries = posting.entries.select_related("material", "lot").order_by("line")
    return [
        _recorded(posting, source.material, source, destination)
        for source, destination in pair(list(entries))
    ]


def recorded_movements(entries: QuerySet[Entry]) -> list[RecordedMovement]:
    """The movements that entries of any queryset are one side of, in the queryset's order: two queries."""
    return [_recorded(entry.posting, entry.material, *sides) for entry, sides in _with_counterparts(entries)]


def _with_counterparts(entries: QuerySet[Entry]) -> list[tuple[Entry, tuple[Entry, Entry]]]:
    """Each entry, and with it both entries of its movement, the source's first."""
    page = list(entries.select_related("posting__recorded_by", "posting__reversed_by", "material", "lot"))
    others = Entry.objects.filter(
        posting__in={entry.posting_id for entry in page},
        line__in={counterpart_of(entry.line) for entry in page},
    )
    by_place = {(entry.posting_id, entry.line): entry for entry in others.select_related("lot")}
    pairs = []
    for entry in page:
        other = by_place[entry.posting_id, counterpart_of(entry.line)]
        pairs.append((entry, (entry, other) if entry.line % 2 else (other, entry)))
    return pairs


def _recorded(posting: Posting, material: Material, source: Entry, destination: Entry) -> RecordedMovement:
    return RecordedMovement(
        source=AccountReference.of(source),
        destination=AccountReference.of(destination),
        material_id=destination.material_id,
        quantity=destination.quantity,
        money=destination.money,
        role=destination.role,
        effective_on=destination.effective_on,
        posting=posting,
        line=source.line,
        material=material,
        source_lot=source.lot,
    )


def incoming(entries: QuerySet[Entry]) -> QuerySet[Entry]:
    """Of some entries those that are the destination of their movement, reversed movements included."""
    return entries.alias(odd=F("line") % 2).filter(odd=0)


def outgoing(entries: QuerySet[Entry]) -> QuerySet[Entry]:
    """Of some entries those that are the source of their movement, reversed movements included."""
    return entries.alias(odd=F("line") % 2).filter(odd=1)


def with_source_lot(entries: QuerySet[Entry]) -> QuerySet[Entry]:
    """Annotate entries of destinations with the lot that their movement came from (`source_lot_id`), if any."""
    sources = Entry.objects.filter(posting=OuterRef("posting"), line=OuterRef("line") - 1)
    return entries.annotate(source_lot_id=Subquery(sources.values("lot_id")[:1]))


def source_lot_of(entry: Entry) -> int | None:
    """The lot that the movement of an entry read `with_source_lot` came from; none for free material."""
    lot: int | None = getattr(entry, "source_lot_id", None)
    return lot


def destinations_from(lot: Lot) -> QuerySet[Entry]:
    """Entries of the destinations that a lot's standing movements went to."""
    source = Entry.objects.standing().filter(
        lot=lot, quantity__lt=0, posting=OuterRef("posting"), line=OuterRef("line") - 1
    )
    of_its_postings = Entry.objects.filter(posting__in=Entry.objects.filter(lot=lot).values("posting"))
    return of_its_postings.filter(Exists(source))


@dataclass(frozen=True, slots=True)
class AccountMovement:
    """A movement as seen from one of its two accounts: below zero when it left that account."""

    posting: Posting
    line: int
    material: Material
    quantity: int
    money: int
    role: str
    effective_on: date
    account: AccountReference
    account_name: str
    counterpart: AccountReference
    counterpart_name: str

    @property
    def is_reversed(self) -> bool:
        """Reversed since, or itself reversing something."""
        return self.posting.reverses_id is not None or hasattr(self.posting, "reversed_by")


def account_movements(
    entries: QuerySet[Entry], *, limit: int = LATEST, offset: int = 0
) -> list[AccountMovement]:
    """Movements as seen from the accounts of some entries, newest first: four queries however many there are."""
    return movements_seen(entries.order_by("-posting_id", "-line")[offset : offset + limit])


def source_movements(posting: Posting) -> list[AccountMovement]:
    """A posting movement by movement, in its own order, each as seen from its source: four queries."""
    return movements_seen(outgoing(posting.entries.all()).order_by("line"))


def movements_seen(page: QuerySet[Entry]) -> list[AccountMovement]:
    """Movements as seen from the accounts of these entries, in their order: four queries."""
    rows = _with_counterparts(page)
    names = AccountNames.read(AccountReference.of(side) for _entry, sides in rows for side in sides)
    return [_seen_from(entry, sides[1] if entry is sides[0] else sides[0], names) for entry, sides in rows]


def _seen_from(entry: Entry, counterpart: Entry, names: AccountNames) -> AccountMovement:
    accounts = AccountReference.of(entry), AccountReference.of(counterpart)
    own_name, other_name = (names.of(account) for account in accounts)
    return AccountMovement(
        posting=entry.posting,
        line=entry.line,
        material=entry.material,
        quantity=entry.quantity,
        money=entry.money,
        role=entry.role,
        effective_on=entry.effective_on,
        account=accounts[0],
        account_name=own_name,
        counterpart=accounts[1],
        counterpart_name=other_name,
    )


def names_in(movements: Iterable[Movement]) -> AccountNames:
    """The names of all accounts that movements came from or went to: two queries at most."""
    return AccountNames.read(account for each in movements for account in (each.source, each.destination))
