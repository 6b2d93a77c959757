"""The ledger: the only module that writes postings and entries.

An action that posts works like this, in one transaction:

    with open_ledger(submission, facts=[…]) as ledger:   # first: everybody else waits here
        if ledger.earlier is not None:                   # the same submission again gets the first's result
            return ledger.earlier
        draft = ledger.draft(PostingKind.WRITE_OFF)
        draft.load(materials)                            # what the shelf holds of them
        draft.move(…); draft.draw(…)                     # movements, from account to account
        return draft.seal()                              # entries first, the posting last

Quantities are thousandths of the base unit, money millionths of the currency unit.
"""

from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from datetime import date
from typing import Protocol, TypeVar

from django.db import connection

from inventory.errors import ClosedPeriod, LedgerError, NotEnough, ShelfShortfall, day_in_words
from inventory.ledger import costing_methods as costflow
from inventory.ledger.accounts import OUTSIDE, AccountReference, lot_account
from inventory.ledger.balances import holdings_of, moved_after
from inventory.ledger.business_days import refuse_below_zero
from inventory.ledger.hash_chain import Line, seal_over
from inventory.ledger.keyed_records import KeyedRecord, earlier_row, fingerprint_of
from inventory.ledger.models import Books, CostingMethod, Lot, Posting, PostingKind
from inventory.ledger.movements import Movement, entries_of
from inventory.ledger.restating import averaged, must_restate, restated
from inventory.ledger.shortfalls import described
from inventory.ledger.stock_changes import announce_after_commit, history_changed
from inventory.materials.models import Material
from studio.constraints import LARGEST
from studio.errors import NeedsConfirmation, Question
from studio.submission import Submission, transaction
from studio.translation import _
from studio.values.allocation import divide_half_up

EARLIEST_YEAR = 1970  # no bottle in use is older (common practice, no source): 0026 and 1926 are slips
ROWS_A_STATEMENT = 2_000  # SQLite takes 32,766 values in one statement

Record = TypeVar("Record", bound=KeyedRecord)


def lock() -> Books:
    """Lock the ledger for this transaction and return its head.

    Call it first, before reading what a decision rests on.
    """
    if not connection.in_atomic_block:
        raise LedgerError("The ledger is written inside a transaction only.")
    return Books.objects.select_for_update().get(pk=1)


@contextmanager
def open_ledger(submission: Submission, *, facts: object = None) -> Iterator["LockedLedger"]:
    """Open the ledger for a submission: one transaction, the ledger locked until it ends.

    `facts` is everything that the submission asks for (rows, dataclasses, lists of them). They tell the same
    submission sent again, whose first posting is then `earlier`, from another one under its key, which raises
    KeyReused. After the commit the change of every material that the postings touched is announced.
    """
    with transaction(submission):
        ledger = LockedLedger(lock(), submission, fingerprint_of(facts))
        if facts is not None:
            ledger.earlier = earlier_row(Posting, submission, ledger.fingerprint)
        yield ledger
        announce_after_commit(ledger.touched, at=submission.at)


def rehearsal(on: date) -> "PostingDraft":
    """A draft of a day that shows what a posting would move. It locks nothing, and is never sealed."""
    return PostingDraft(
        ledger=None, posting=Posting(number=0, effective_on=on), books=Books.objects.get(pk=1)
    )


@dataclass(slots=True)
class LockedLedger:
    """The ledger while a submission is carried out. `earlier` is the posting that the same submission made before."""

    books: Books
    submission: Submission
    fingerprint: str
    earlier: Posting | None = None
    touched: set[int] = field(default_factory=set)

    def earlier_record(self, model: type[Record]) -> Record | None:
        """The row of an action that may make no posting, if the same submission made it before. Raises KeyReused."""
        return earlier_row(model, self.submission, self.fingerprint)

    def touch(self, materials: Iterable[int]) -> None:
        """Say that something besides postings has changed for these materials, such as what is on order."""
        self.touched.update(materials)

    def refuse_day(self, on: date) -> None:
        """Raise ClosedPeriod for a day in a closed period, LedgerError for one ahead or far back."""
        closed = self.books.closed_through
        if closed is not None and on <= closed:
            raise ClosedPeriod(
                _("The period up to {day} is closed. Use a later date.", day=day_in_words(closed))
            )
        if self.submission.is_ahead(on):
            raise LedgerError(
                _("{day} is in the future. Use today's date or an earlier one.", day=day_in_words(on))
            )
        if on.year < EARLIEST_YEAR:
            raise LedgerError(_("The year {year} cannot be right. Check the date.", year=on.year))

    def draft(
        self,
        kind: PostingKind,
        *,
        on: date | None = None,
        note: str = "",
        answers: bool = True,
        questions: Sequence[Question] = (),
    ) -> "PostingDraft":
        """Start a posting of the submission's day, or of `on`; `questions` must be confirmed before it is sealed.

        One posting of a submission answers its key; others that it makes besides have `answers` false.
        Raises ClosedPeriod when its day lies in a closed period, LedgerError when it lies ahead.
        """
        on, at = on or self.submission.on, self.submission.at
        self.refuse_day(on)
        posting = Posting(
            number=self.books.last_number + 1,
            kind=kind,
            effective_on=on,
            recorded_by=self.submission.by,
            note=note,
            key=self.submission.key if answers else "",
            fingerprint=self.fingerprint if answers else "",
            recorded_at=max(at, self.books.last_recorded_at or at),
            previous_hash=self.books.last_hash,
        )
        return PostingDraft(ledger=self, posting=posting, books=self.books, questions=questions)

    def sealed(self, posting: Posting, entries: Sequence[Line]) -> None:
        """Keep the head in step with the posting that was just written."""
        self.books.last_number = posting.number
        self.books.last_hash = posting.hash
        self.books.last_recorded_at = posting.recorded_at
        materials = {entry.material_id for entry in entries if entry.lot_id}
        self.touch(materials)
        earliest = min(entry.effective_on for entry in entries)
        if posting.reverses_id or posting.corrects_id or earliest < self.submission.today:
            history_changed.send(sender=None, materials=materials)


class Moves(Protocol):
    """Whatever takes the moves of mixing and pouring: a draft, or what they are compared with."""

    def draw(
        self,
        material: Material,
        quantity: int,
        destination: AccountReference,
        *,
        role: str = "",
        chosen: int | None = None,
        only: bool = False,
    ) -> int: ...

    def receive(self, lot: Lot, *, quantity: int, money: int, source: AccountReference) -> None: ...


@dataclass(slots=True)
class PostingDraft:
    """A posting being put together. Nothing of it is written before `seal`; without a ledger it is a rehearsal."""

    ledger: LockedLedger | None
    posting: Posting
    books: Books
    questions: Sequence[Question] = ()
    movements: list[Movement] = field(default_factory=list)
    holdings: dict[int, dict[int, costflow.Holding]] = field(default_factory=dict)
    materials: dict[int, Material] = field(default_factory=dict)
    _wanted: dict[int, int] = field(default_factory=dict)
    _missing: dict[int, int] = field(default_factory=dict)

    @property
    def number(self) -> int:
        return self.posting.number

    @property
    def method(self) -> CostingMethod:
        return CostingMethod(self.books.costing_method)

    @property
    def draws_by_expiry(self) -> bool:
        return self.method == CostingMethod.FEFO

    def load(self, materials: Iterable[Material]) -> None:
        """Read what the shelf holds of these materials, and for a past day what of it was there by then."""
        for material in materials:
            self.materials.setdefault(material.pk, material)
            self.holdings.setdefault(material.pk, {})
        for material_id, holding in holdings_of(list(self.materials)):
            self.holdings[material_id][holding.lot] = holding
        if self._is_backdated:
            self._set_arrivals()

    def _set_arrivals(self) -> None:
        of_lot = {lot: pk for pk, lots in self.holdings.items() for lot in lots}
        for lot, days in moved_after(self.posting.effective_on, of_lot).items():
            later = most = 0
            for _day, quantity, _money in days:
                later += quantity
                most = max(most, later)
            holdings = self.holdings[of_lot[lot]]
            holdings[lot] = replace(holdings[lot], arrived_later=most)

    @property
    def _is_backdated(self) -> bool:
        """Whether anything can have happened since. A rehearsal looks in any case."""
        return self.ledger is None or self.posting.effective_on < self.ledger.submission.today

    def move(
        self,
        source: AccountReference,
        destination: AccountReference,
        material_id: int,
        *,
        quantity: int,
        money: int,
        role: str = "",
        on: date | None = None,
    ) -> None:
        """Move quantity and money from source to destination. A movement of nothing at all is left out.

        Money alone may move on another day than the posting's; in a correction quantities as well.

        Raises LedgerError for more than a column holds: sums and shares can come to more than anybody typed.
        """
        if not quantity and not money:
            return
        if max(abs(quantity), abs(money)) > LARGEST:
            raise LedgerError(_("That number is too large. Check the amounts and their units."))
        day = on or self.posting.effective_on
        self.movements.append(Movement(source, destination, material_id, quantity, money, str(role), day))
        self._follow(source, material_id, -quantity, -money)
        self._follow(destination, material_id, quantity, money)

    def mirror(self, movements: Iterable[Movement]) -> None:
        """Move everything back on this posting's day; what was dated apart from its posting on its own, if open."""
        original = self.posting.reverses
        for each in movements:
            is_apart = not each.quantity or (original and each.effective_on != original.effective_on)
            on = self.books.open_day(each.effective_on) if is_apart else self.posting.effective_on
            self.movements.append(replace(each, quantity=-each.quantity, money=-each.money, effective_on=on))

    def receive(self, lot: Lot, *, quantity: int, money: int, source: AccountReference = OUTSIDE) -> None:
        """Put quantity and money into a lot, new or known."""
        known = self.holdings.setdefault(lot.material_id, {})
        known.setdefault(lot.pk, costflow.Holding(lot.pk, 0, 0, lot.best_before, lot.received_on))
        self.move(source, lot_account(lot.pk), lot.material_id, quantity=quantity, money=money)

    def draw(
        self,
        material: Material,
        quantity: int,
        destination: AccountReference,
        *,
        role: str = "",
        chosen: int | None = None,
        only: bool = False,
    ) -> int:
        """Draw by the cost flow's order and return the money that went along.

        The chosen lot comes first; with `only`, nothing is drawn from another.
        A shortfall is noted and refused at the seal, so that every one of them can be listed at once.
        """
        if material.is_free:
            money = divide_half_up(material.free_rate * quantity, 1_000_000)
            self.move(OUTSIDE, destination, material.pk, quantity=quantity, money=money, role=role)
            return money
        lots = self._drawable(material.pk)
        if chosen is not None:
            lots = [lot for lot in lots if lot.lot == chosen or not only]
            chosen = chosen if any(lot.lot == chosen for lot in lots) else None
        there = min(quantity, sum(lot.available for lot in lots))
        self._wanted[material.pk] = self._wanted.get(material.pk, 0) + quantity
        if there < quantity:
            self.materials.setdefault(material.pk, material)
            self._missing[material.pk] = self._missing.get(material.pk, 0) + quantity - there
        takes = costflow.draw(lots, there, chosen=chosen, by_expiry=self.draws_by_expiry)
        for take in takes:
            self.move(
                lot_account(take.lot),
                destination,
                material.pk,
                quantity=take.quantity,
                money=take.money,
                role=role,
            )
        return sum(take.money for take in takes)

    def seal(self) -> Posting:
        """Write the entries, then the posting over them.

        Raises NotEnough listing every shortfall, NeedsConfirmation with every question that is not answered.
        """
        if self.ledger is None:
            raise LedgerError("A rehearsal is never sealed.")
        unanswered = self.unanswered
        if short := self.shortfalls:
            raise NotEnough(short, [described(item) for item in short], unanswered)
        if unanswered:
            raise NeedsConfirmation(unanswered)
        if not self.movements:
            raise LedgerError(_("There is nothing to post: every amount is zero."))
        self.cost_what_follows()
        entries = entries_of(self.movements)
        self.posting.confirmed = [each.in_full for each in self.questions]
        self.posting.lines = len(entries)
        self.posting.hash = seal_over(self.posting, entries)
        _write_entries(self.posting.number, entries)
        self.posting.save(force_insert=True)
        self.ledger.sealed(self.posting, entries)
        return self.posting

    @property
    def unanswered(self) -> list[Question]:
        """The questions that the submission does not confirm."""
        confirmed = self.ledger.submission.confirmed if self.ledger else ()
        return [each for each in self.questions if each.token not in confirmed]

    def cost_what_follows(self) -> None:
        """Add what this posting changes in the cost of other movements, and refuse what no business day can bear."""
        if must_restate(self.posting, self.movements, self.method, is_backdated=self._is_backdated):
            self.movements += self.restated()
            refuse_below_zero(self.movements)
        else:
            if self.method == CostingMethod.AVERAGE:
                self.movements += averaged(self.movements)
            if self._is_backdated:
                refuse_below_zero(self.movements)

    def restated(self) -> list[Movement]:
        """What this posting changes in the cost of other movements."""
        return restated(self.posting, self.movements, self.books)

    def _drawable(self, material_id: int) -> list[costflow.Holding]:
        """Lots with something in them that were there on the posting's day."""
        lots = self.holdings.get(material_id, {}).values()
        return [lot for lot in lots if lot.available and lot.received_on <= self.posting.effective_on]

    def _follow(self, account: AccountReference, material_id: int, quantity: int, money: int) -> None:
        if account.lot is None or (holding := self.holdings.get(material_id, {}).get(account.lot)) is None:
            return
        self.holdings[material_id][account.lot] = replace(
            holding, quantity=holding.quantity + quantity, money=holding.money + money
        )

    @property
    def shortfalls(self) -> list[ShelfShortfall]:
        """What the shelf holds too little of for what was drawn so far."""
        return [self._shortfall(pk, missing) for pk, missing in self._missing.items()]

    def _shortfall(self, pk: int, missing: int) -> ShelfShortfall:
        material, wanted = self.materials[pk], self._wanted[pk]
        lots, day = self.holdings.get(pk, {}).values(), self.posting.effective_on
        later = [lot for lot in lots if lot.quantity and lot.received_on > day]
        return ShelfShortfall(
            pk,
            material.name,
            material.measure,
            wanted,
            wanted - missing,
            sum(lot.quantity for lot in later),
            min((lot.received_on for lot in later), default=None),
        )


def _write_entries(number: int, lines: Sequence[Line]) -> None:
    """Write a posting's entries in one statement; a bulk insert of models would cut a long posting into many."""
    columns = ("posting_id", *Line._fields)
    row = f"({', '.join(['%s'] * len(columns))})"
    with connection.cursor() as cursor:
        for start in range(0, len(lines), ROWS_A_STATEMENT):
            some = lines[start : start + ROWS_A_STATEMENT]
            rows = ", ".join([row] * len(some))
            cursor.execute(
                f"INSERT INTO inventory_entry ({', '.join(columns)}) VALUES {rows}",  # noqa: S608, nothing typed in
                [value for line in some for value in (number, *line)],
            )
