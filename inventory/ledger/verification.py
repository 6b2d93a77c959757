"""Checks the books: every rule of the ledger, from its rows alone, in one snapshot, without writing anything."""

import gc
from collections import defaultdict
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date
from itertools import groupby
from operator import itemgetter
from typing import Any, TypeVar

from django.core.exceptions import MultipleObjectsReturned, ObjectDoesNotExist
from django.db import DatabaseError, connections, transaction
from django.db.models import Count, Max, QuerySet, Sum, TextField
from django.db.models.functions import Cast

from inventory.ledger import book_checks, database_rules, restating
from inventory.ledger.change_checks import check_changes
from inventory.ledger.closing_checks import check_closing
from inventory.ledger.costing_methods import is_possible
from inventory.ledger.findings import RULES, Break, Tally
from inventory.ledger.kept_seals import KeptSeal, compare
from inventory.ledger.ledger_rows import EntryRow, LotFacts, PostingRow
from inventory.ledger.models import Books, CostingMethod, Entry, Lot, LotBalance, MonthEnd, Place, Posting
from inventory.ledger.month_ends import month_end
from inventory.ledger.replay import FIRST_LINK, Held, Replay
from inventory.ledger.restatement import Account
from studio.translation import _

ROWS_AT_A_TIME = 5_000
POSTINGS_AT_A_TIME = 1_000  # between one word of progress and the next
# A value that is not what its column should hold, or a row that is not there, stops the reading; what came before it
# stands, and so does what the other checks find.
UNREADABLE = (
    DatabaseError,
    ValueError,
    TypeError,
    AttributeError,
    LookupError,
    ArithmeticError,
    ObjectDoesNotExist,
    MultipleObjectsReturned,
)
Row = TypeVar("Row")


@dataclass(frozen=True, slots=True)
class RuleResult:
    """One rule: how many things were looked at, and how many broke it."""

    rule: str
    title: str
    checked: int
    broken: int


@dataclass(frozen=True, slots=True)
class Report:
    """What a check found. `money` is in millionths by place; `last_hash` seals everything before it."""

    rules: tuple[RuleResult, ...]
    breaks: tuple[Break, ...]
    postings: int
    entries: int
    lots: int
    last_hash: str
    money: dict[str, int]

    @property
    def is_clean(self) -> bool:
        return not any(rule.broken for rule in self.rules)


def check(
    *, using: str = "default", kept: Sequence[KeptSeal] = (), progress: Callable[[int], object] | None = None
) -> Report:
    """Check every rule of RULES and say what was looked at. Reads only; writers go on working.

    `kept` are seals from elsewhere, which the ledger is compared with; `progress` is told now and then how many
    postings have been checked.
    """
    tally = Tally()
    with snapshot(using), _uncollected():
        replay, entries = _replayed(using, tally, progress)
        for look in (_balances, _business_days, _month_ends, _head):
            with _told_if_unreadable(tally):
                look(using, replay, tally)
        compare(kept, tally, using=using)
        for check_rows in (
            _keys,
            check_closing,
            check_changes,
            _restated,
            *book_checks.registered(),
            _rules,
            _file,
        ):
            with _told_if_unreadable(tally):
                check_rows(using, tally)
    money: dict[str, int] = {place.value: 0 for place in Place}
    for month in replay.by_month.values():
        for place, amount in month.items():
            money[place] = money.get(place, 0) + amount
    return Report(
        rules=tuple(
            RuleResult(rule, _(title), tally.checked[rule], tally.broken[rule])
            for rule, title in RULES.items()
        ),
        breaks=tuple(tally.breaks),
        postings=tally.checked["sequence"],
        entries=entries,
        lots=len(replay.lots),
        last_hash=replay.link,
        money=money,
    )


@contextmanager
def snapshot(using: str = "default") -> Iterator[None]:
    """Read the database as it stands at one moment, without writing and without holding writers up.

    Inside a transaction that is already open, that transaction is the snapshot.
    """
    connection = connections[using]
    if connection.in_atomic_block:
        yield
    elif connection.vendor == "sqlite":
        # Django would begin an immediate transaction, which keeps writers out. A deferred one only reads.
        with connection.cursor() as cursor:
            cursor.execute("PRAGMA query_only = ON")
            cursor.execute("BEGIN DEFERRED")
            try:
                yield
            finally:
                cursor.execute("ROLLBACK")
                cursor.execute("PRAGMA query_only = OFF")
    else:
        with transaction.atomic(using=using):
            with connection.cursor() as cursor:
                cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ, READ ONLY")
            yield


@contextmanager
def _uncollected() -> Iterator[None]:
    """Let the garbage collector rest: a check makes rows by the million and no cycles, which it looks for in vain."""
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()


@contextmanager
def _told_if_unreadable(tally: Tally) -> Iterator[None]:
    try:
        yield
    except UNREADABLE as problem:
        tally.tell(
            "file", _("the database"), _("the ledger cannot be read further: {problem}", problem=problem)
        )


def _replayed(
    using: str, tally: Tally, progress: Callable[[int], object] | None = None
) -> tuple[Replay, int]:
    lots = Lot.objects.using(using).values_list("pk", "material_id", "received_on")
    reversals = (
        Posting.objects.using(using).filter(reverses__isnull=False).values_list("reverses_id", flat=True)
    )
    replay, entries = Replay(lot_facts={}, reversed_numbers=frozenset(), tally=tally), 0
    try:
        replay.lot_facts = {pk: LotFacts(material, received_on) for pk, material, received_on in lots}
        replay.reversed_numbers = frozenset(number for number in reversals if number is not None)
        replay.kept_through = MonthEnd.objects.using(using).aggregate(last=Max("through"))["last"] or 0
        for posting, lines in _postings(using, tally):
            entries += len(lines)
            replay.take(posting, lines)
            if progress and not tally.checked["sequence"] % POSTINGS_AT_A_TIME:
                progress(tally.checked["sequence"])
        replay.finish()
    except UNREADABLE as problem:
        tally.tell(
            "file",
            _("after posting {number}", number=replay.number),
            _("the ledger cannot be read further: {problem}", problem=problem),
        )
    return replay, entries


def _postings(using: str, tally: Tally) -> Iterator[tuple[PostingRow, list[EntryRow]]]:
    """Every posting with its entries, in order: two streams read side by side."""
    rows = Posting.objects.using(using).order_by("number").values_list(*PostingRow._fields)
    *columns, _day = EntryRow._fields
    day = _as_written("effective_on")
    entry_rows = Entry.objects.using(using).order_by("posting_id", "line").values_list(*columns, day)
    by_posting = groupby(_streamed(entry_rows), key=itemgetter(0))
    waiting = next(by_posting, None)
    for posting in map(PostingRow._make, _streamed(rows)):
        while waiting is not None and waiting[0] < posting.number:
            _tell_orphans(waiting[0], tally)
            waiting = next(by_posting, None)
        lines: list[EntryRow] = []
        if waiting is not None and waiting[0] == posting.number:
            lines = list(waiting[1])
            waiting = next(by_posting, None)
        yield posting, lines
    while waiting is not None:
        _tell_orphans(waiting[0], tally)
        waiting = next(by_posting, None)


def _as_written(day: str) -> Cast:
    """A column of days as text: to make a date of each would take as long as all else."""
    return Cast(day, TextField())


def _tell_orphans(number: int, tally: Tally) -> None:
    tally.tell_posting("sequence", number, _("there are entries without a posting"))


def _streamed(rows: QuerySet[Any, Row]) -> Iterator[Row]:
    return rows.iterator(chunk_size=ROWS_AT_A_TIME)


def _balances(using: str, replay: Replay, tally: Tally) -> None:
    written = {
        lot: Held(quantity, money, posting)
        for lot, quantity, money, posting in LotBalance.objects.using(using).values_list(
            "lot_id", "quantity", "money", "last_posting_id"
        )
    }
    tally.checked["balances"] += len(replay.lots.keys() | written.keys())
    for lot in sorted(replay.lots.keys() | written.keys()):
        summed, balance = replay.lots.get(lot), written.get(lot)
        if summed != balance:
            problem = _(
                "{written} recorded, but its entries add up to {summed}",
                written=_amounts(balance),
                summed=_amounts(summed),
            )
            tally.tell("balances", _("lot {lot}", lot=lot), problem)


def _amounts(held: Held | None) -> str:
    if held is None:
        return _("nothing recorded")
    return _(
        "{quantity} thousandths and {money} millionths through posting {number}",
        quantity=held.quantity,
        money=held.money,
        number=held.posting,
    )


def _business_days(using: str, replay: Replay, tally: Tally) -> None:
    """Where lots moved in order of days, the replay has seen the end of each; the others are added up by day."""
    tally.checked["days"] += len(replay.lots)
    rows = (
        Entry.objects.using(using)
        .filter(lot__in=replay.out_of_order)
        .values_list("lot_id", "effective_on")
        .annotate(quantity=Sum("quantity"), money=Sum("money"))
        .order_by("lot_id", "effective_on")
    )
    for lot, days in groupby(_streamed(rows), key=itemgetter(0)):
        held = Held()
        for _lot, day, quantity, money in days:
            held = Held(held.quantity + quantity, held.money + money)
            if not is_possible(held.quantity, held.money):
                tally.tell("days", _("lot {lot} on {day}", lot=lot, day=day), held.in_words())


def _restated(using: str, tally: Tally) -> None:
    """By lot and without corrections, each draw and each reversal was held against this rule as it was replayed."""
    books = Books.objects.using(using).filter(pk=1).first()
    corrected = Posting.objects.using(using).filter(corrects__isnull=False)
    if books is None or (books.costing_method != CostingMethod.AVERAGE and not corrected.exists()):
        return
    restatement = restating.restatement(books, using=using)
    for posting in restating.posted_facts(using):
        tally.checked["restated"] += len(posting.movements)
        restatement.take(posting)
    for flow, off in restatement.finish().items():
        where = _(
            "material {material} on {day}, {source} to {destination}",
            material=flow.material,
            day=flow.day,
            source=_named(flow.source),
            destination=_named(flow.destination),
        )
        tally.tell("restated", where, _off_by(*off))


def _off_by(quantity: int, money: int) -> str:
    if not quantity:
        return _("off by {money} millionths", money=money)
    return _("off by {quantity} thousandths and {money} millionths", quantity=quantity, money=money)


def _named(account: Account) -> str:
    return " ".join(str(part) for part in account if part)


def _month_ends(using: str, replay: Replay, tally: Tally) -> None:
    rows = (
        MonthEnd.objects.using(using)
        .order_by("day")
        .values_list(_as_written("day"), "lot_id", "quantity", "money", "through")
    )
    by_day: dict[str, dict[int, tuple[int, int]]] = defaultdict(dict)
    for day, lot, quantity, money, through in _streamed(rows):
        by_day[day][lot] = quantity, money
        if through != replay.kept_through:
            problem = _("{kept} is stored, {ledger} is right", kept=through, ledger=replay.kept_through)
            tally.tell("month_ends", _("lot {lot} on {day}", lot=lot, day=day), problem)
    kept = {date.fromisoformat(day): held for day, held in by_day.items()}
    tally.checked["month_ends"] += sum(map(len, kept.values()))
    last = max(kept, default=date.min)
    held: dict[int, tuple[int, int]] = {}
    for month in sorted(replay.moved):
        day = month_end(month)
        if day > last:
            break
        for lot, moved in replay.moved[month].items():
            quantity, money = held.get(lot, (0, 0))
            held[lot] = quantity + moved.quantity, money + moved.money
            if held[lot] == (0, 0):
                del held[lot]
        _tell_month_end(day, kept.pop(day, {}), held, tally)
    for day, stored in kept.items():
        _tell_month_end(day, stored, {}, tally)


def _tell_month_end(
    day: date, stored: Mapping[int, tuple[int, int]], held: Mapping[int, tuple[int, int]], tally: Tally
) -> None:
    if stored == held:
        return
    for lot in sorted(lot for lot in stored.keys() | held.keys() if stored.get(lot) != held.get(lot)):
        problem = _("{kept} is stored, {ledger} is right", kept=stored.get(lot), ledger=held.get(lot))
        tally.tell("month_ends", _("lot {lot} on {day}", lot=lot, day=day), problem)


def _head(using: str, replay: Replay, tally: Tally) -> None:
    tally.checked["head"] += 1
    head = Books.objects.using(using).values_list("last_number", "last_hash", "last_recorded_at").first()
    last = (replay.number, replay.link if replay.number else FIRST_LINK, replay.recorded_at)
    if head != last:
        problem = (
            _("it names posting {named}; the last posting is {last}", named=head[0], last=replay.number)
            if head
            else _("it names nothing; the last posting is {last}", last=replay.number)
        )
        tally.tell("head", _("the ledger head"), problem)


def _keys(using: str, tally: Tally) -> None:
    keyed = Posting.objects.using(using).exclude(key="").order_by()
    tally.checked["keys"] += keyed.count()
    for by, key, times in (
        keyed.values_list("recorded_by_id", "key").annotate(times=Count("pk")).filter(times__gt=1)
    ):
        tally.tell(
            "keys",
            _("key {key}", key=key),
            _("person {person} has {times} postings with it", person=by, times=times),
        )


def _rules(using: str, tally: Tally) -> None:
    tally.checked["rules"] += len(database_rules.rules(connections[using].vendor))
    for difference in database_rules.differences(using):
        tally.tell("rules", _("the database"), difference)


def _file(using: str, tally: Tally) -> None:
    """SQLite can look its own file over; PostgreSQL keeps its foreign keys and pages itself."""
    connection = connections[using]
    if connection.vendor != "sqlite":
        return
    with connection.cursor() as cursor:
        tally.checked["file"] += 1
        cursor.execute("PRAGMA quick_check(20)")
        for (problem,) in cursor.fetchall():
            if problem != "ok":
                tally.tell("file", _("the database file"), str(problem))
        cursor.execute("PRAGMA foreign_key_check")
        for table, row, parent, _key in cursor.fetchmany(20):
            problem = _("it refers to something in {table} that does not exist", table=parent)
            tally.tell("file", _("{table}, row {row}", table=table, row=row), problem)
