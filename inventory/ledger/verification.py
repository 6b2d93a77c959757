"""Checks the books: every rule of the ledger, from its rows alone, in one snapshot, without writing anything."""

import gc
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import timedelta
from itertools import groupby
from operator import itemgetter
from typing import Any, TypeVar

from django.db import DatabaseError, connections, transaction
from django.db.models import Count, Max, OuterRef, QuerySet, Subquery, Sum

from inventory.ledger import database_rules
from inventory.ledger.findings import RULES, Break, Tally
from inventory.ledger.models import Books, Entry, Lot, LotBalance, MonthEnd, Place, Posting, PostingKind
from inventory.ledger.month_ends import DayOfLot, month_ends
from inventory.ledger.replay import FIRST_LINK, EntryRow, Held, LotFacts, PostingRow, Replay
from inventory.purchasing.models import Delivery, DeliveryLine
from studio.translation import _, noop
from studio.values.money import convert

ROWS_AT_A_TIME = 5_000
# Which document stands beside which kind of posting, and what is told when it does not.
PAPERS = {
    PostingKind.DELIVERY: ("delivery", noop("its delivery is missing")),
    PostingKind.SESSION: ("session", noop("its session is missing")),
    PostingKind.MIX: ("mixes", noop("its mix is missing")),
    PostingKind.STOCKTAKE: ("stocktake", noop("its stocktake is missing")),
}
# A value that is not what its column should hold stops the reading; what came before it stands.
UNREADABLE = (DatabaseError, ValueError, TypeError, AttributeError)
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


def check(*, using: str = "default") -> Report:
    """Check every rule of RULES and say what was looked at. Reads only; writers go on meanwhile."""
    tally = Tally()
    with snapshot(using):
        with _uncollected():
            replay, entries = _replayed(using, tally)
        for look in (_balances, _month_ends, _head):
            with _told_if_unreadable(tally):
                look(using, replay, tally)
        for check_rows in (_keys, _deliveries, _papers, _rules, _file):
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
    """Let the garbage collector rest: a replay makes rows by the million and no cycles, which it looks for in vain."""
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


def _replayed(using: str, tally: Tally) -> tuple[Replay, int]:
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
    entry_rows = Entry.objects.using(using).order_by("posting_id", "line").values_list(*EntryRow._fields)
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
            told = _(
                "{written} recorded, but its entries add up to {summed}",
                written=_amounts(balance),
                summed=_amounts(summed),
            )
            tally.tell("balances", _("lot {lot}", lot=lot), told)


def _amounts(held: Held | None) -> str:
    if held is None:
        return _("nothing recorded")
    return _(
        "{quantity} thousandths and {money} millionths through posting {number}",
        quantity=held.quantity,
        money=held.money,
        number=held.posting,
    )


def _month_ends(using: str, replay: Replay, tally: Tally) -> None:
    rows = (
        MonthEnd.objects.using(using).order_by().values_list("day", "lot_id", "quantity", "money", "through")
    )
    kept = {(day, lot): sums for day, lot, *sums in _streamed(rows)}
    if not kept:
        return
    last = max(day for day, _lot in kept)
    moved = (
        DayOfLot(month, lot, moved.quantity, moved.money)
        for month, by_lot in sorted(replay.moved.items())
        for lot, moved in by_lot.items()
    )
    ledger = {
        (row.day, row.lot): [row.quantity, row.money, replay.kept_through]
        for row in month_ends(moved, before=last + timedelta(days=1))
    }
    tally.checked["month_ends"] += len(kept)
    for day, lot in sorted(key for key in kept.keys() | ledger.keys() if kept.get(key) != ledger.get(key)):
        told = _(
            "{kept} is stored, {ledger} is right", kept=kept.get((day, lot)), ledger=ledger.get((day, lot))
        )
        tally.tell("month_ends", _("lot {lot} on {day}", lot=lot, day=day), told)


def _head(using: str, replay: Replay, tally: Tally) -> None:
    tally.checked["head"] += 1
    head = Books.objects.using(using).values_list("last_number", "last_hash", "last_recorded_at").first()
    last = (replay.number, replay.link if replay.number else FIRST_LINK, replay.recorded_at)
    if head != last:
        told = (
            _("it names posting {named}; the last posting is {last}", named=head[0], last=replay.number)
            if head
            else _("it names nothing; the last posting is {last}", last=replay.number)
        )
        tally.tell("head", _("the ledger head"), told)


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


def _deliveries(using: str, tally: Tally) -> None:
    """The ledger's own entries against the delivery's lines, and these against the invoice."""
    charged = (
        Entry.objects.filter(lot=OuterRef("lot"), posting=OuterRef("delivery__posting"), quantity__gt=0)
        .order_by()
        .values("lot")
    )
    lines = (
        DeliveryLine.objects.using(using)
        .order_by("delivery_id")
        .values_list(
            "delivery_id",
            "lot_id",
            "quantity",
            "price",
            "landed",
            Subquery(charged.annotate(total=Sum("quantity")).values("total")),
            Subquery(charged.annotate(total=Sum("money")).values("total")),
        )
    )
    paid = Delivery.objects.using(using).values_list("pk", "rate", "carriage", "duty", "tax")
    facts = {pk: (rate, carriage + duty + tax) for pk, rate, carriage, duty, tax in paid}
    missing = _receipts(using)
    for delivery, group in groupby(_streamed(lines), key=lambda line: line[0]):
        invoiced = landed = 0
        rate, extra = facts.get(delivery, (0, 0))
        for _delivery, lot, quantity, price, cost, entered, charged_money in group:
            tally.checked["deliveries"] += 1
            missing[delivery] -= 1
            invoiced += convert(price, rate) if rate > 0 else 0
            landed += cost
            if (quantity, cost) != (entered, charged_money):
                where = _("delivery {delivery}, lot {lot}", delivery=delivery, lot=lot)
                tally.tell("deliveries", where, _mismatch(quantity, cost, entered, charged_money))
        if landed != invoiced + extra:
            told = _("{landed} landed of {paid} paid", landed=landed, paid=invoiced + extra)
            tally.tell("deliveries", _("delivery {delivery}", delivery=delivery), told)
    for delivery, lots in missing.items():
        if lots > 0:
            told = _("{lots} of the lots that came in are on none of its lines", lots=lots)
            tally.tell("deliveries", _("delivery {delivery}", delivery=delivery), told)


def _receipts(using: str) -> Counter[int]:
    """How many lots each delivery's posting brought in."""
    came_in = Entry.objects.using(using).filter(place=Place.LOT, quantity__gt=0)
    by_delivery = came_in.filter(posting__delivery__isnull=False).order_by().values_list("posting__delivery")
    return Counter(dict(by_delivery.annotate(lots=Count("pk"))))


def _mismatch(quantity: int, cost: int, entered: int | None, charged: int | None) -> str:
    return _(
        "delivered {quantity} at {cost}, but the ledger has {entered} at {charged}",
        quantity=quantity,
        cost=cost,
        entered=entered,
        charged=charged,
    )


def _papers(using: str, tally: Tally) -> None:
    for kind, (paper, gone) in PAPERS.items():
        of_kind = Posting.objects.using(using).filter(kind=kind)
        tally.checked["papers"] += of_kind.count()
        for number in of_kind.filter(**{f"{paper}__isnull": True}).values_list("number", flat=True):
            tally.tell_posting("papers", number, _(gone))


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
            told = _("it refers to something in {table} that does not exist", table=parent)
            tally.tell("file", _("{table}, row {row}", table=table, row=row), told)
