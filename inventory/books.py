"""Checks the books: every rule of the ledger, from its rows alone, in one snapshot, without writing anything."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from itertools import groupby
from typing import Any, TypeVar

from django.db import DatabaseError, connections, transaction
from django.db.models import Count, OuterRef, QuerySet, Subquery, Sum

from inventory import database_rules
from inventory.models import (
    Books,
    Delivery,
    DeliveryLine,
    Entry,
    Lot,
    LotBalance,
    Place,
    Posting,
    PostingKind,
)
from inventory.replay import FIRST_LINK, RULES, Break, EntryRow, Held, LotFacts, PostingRow, Replay, Tally
from studio.money import convert

ROWS_AT_A_TIME = 5_000
# Which document stands beside which kind of posting.
PAPERS = {
    PostingKind.DELIVERY: "delivery",
    PostingKind.SESSION: "session",
    PostingKind.MIX: "mixes",
    PostingKind.STOCKTAKE: "stocktake",
}
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
        replay, entries = _replayed(using, tally)
        for look in (_balances, _head):
            look(using, replay, tally)
        for check_rows in (_keys, _deliveries, _papers, _rules, _file):
            check_rows(using, tally)
    money: dict[str, int] = {place.value: 0 for place in Place}
    for month in replay.by_month.values():
        for place, amount in month.items():
            money[place] = money.get(place, 0) + amount
    return Report(
        rules=tuple(
            RuleResult(rule, title, tally.checked[rule], tally.broken[rule]) for rule, title in RULES.items()
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


def _replayed(using: str, tally: Tally) -> tuple[Replay, int]:
    lots = Lot.objects.using(using).values_list("pk", "material_id", "received_on")
    reversals = (
        Posting.objects.using(using).filter(reverses__isnull=False).values_list("reverses_id", flat=True)
    )
    replay = Replay(
        lot_facts={pk: LotFacts(material, received_on) for pk, material, received_on in lots},
        reversed_numbers=frozenset(number for number in reversals if number is not None),
        tally=tally,
    )
    entries = 0
    try:
        for posting, lines in _postings(using, tally):
            entries += len(lines)
            replay.take(posting, lines)
        replay.finish()
    except (DatabaseError, ValueError, TypeError, AttributeError) as problem:
        # A value that is not what its column should hold stops the reading; what came before it stands.
        tally.tell("file", f"after posting {replay.number}", f"the ledger cannot be read on: {problem}")
    return replay, entries


def _postings(using: str, tally: Tally) -> Iterator[tuple[PostingRow, list[EntryRow]]]:
    """Every posting with its entries, in order: two streams read side by side."""
    rows = Posting.objects.using(using).order_by("number").values_list(*PostingRow._fields)
    entry_rows = Entry.objects.using(using).order_by("posting_id", "line").values_list(*EntryRow._fields)
    by_posting = groupby(map(EntryRow._make, _streamed(entry_rows)), key=lambda entry: entry.posting_id)
    waiting = next(by_posting, None)
    for posting in map(PostingRow._make, _streamed(rows)):
        while waiting is not None and waiting[0] < posting.number:
            tally.tell("sequence", f"posting {waiting[0]}", "entries stand there without their posting")
            waiting = next(by_posting, None)
        lines: list[EntryRow] = []
        if waiting is not None and waiting[0] == posting.number:
            lines = list(waiting[1])
            waiting = next(by_posting, None)
        yield posting, lines
    while waiting is not None:
        tally.tell("sequence", f"posting {waiting[0]}", "entries stand there without their posting")
        waiting = next(by_posting, None)


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
            tally.tell(
                "balances", f"lot {lot}", f"{_amounts(balance)}, but its entries sum to {_amounts(summed)}"
            )


def _amounts(held: Held | None) -> str:
    if held is None:
        return "nothing written"
    return f"{held.quantity} thousandths and {held.money} millionths through posting {held.posting}"


def _head(using: str, replay: Replay, tally: Tally) -> None:
    tally.checked["head"] += 1
    head = Books.objects.using(using).values_list("last_number", "last_hash", "last_recorded_at").first()
    last = (replay.number, replay.link if replay.number else FIRST_LINK, replay.recorded_at)
    if head != last:
        named = f"posting {head[0]}" if head else "nothing"
        tally.tell("head", "the head", f"it names {named}; the last posting is {replay.number}")


def _keys(using: str, tally: Tally) -> None:
    keyed = Posting.objects.using(using).exclude(key="").order_by()
    tally.checked["keys"] += keyed.count()
    for by, key, times in (
        keyed.values_list("recorded_by_id", "key").annotate(times=Count("pk")).filter(times__gt=1)
    ):
        tally.tell("keys", f"key {key}", f"person {by} has {times} postings under it")


def _deliveries(using: str, tally: Tally) -> None:
    """The ledger's own entries against the delivery's lines, and these against the invoice."""
    charged = (
        Entry.objects.filter(lot=OuterRef("lot"), posting=OuterRef("delivery__posting"), quantity__gt=0)
        .order_by()
        .values("lot")
    )
    lines = DeliveryLine.objects.using(using).order_by("delivery_id").values_list(
        "delivery_id", "lot_id", "quantity", "price", "landed",
        Subquery(charged.annotate(total=Sum("quantity")).values("total")),
        Subquery(charged.annotate(total=Sum("money")).values("total")),
    )  # fmt: skip
    paid = Delivery.objects.using(using).values_list("pk", "rate", "carriage", "duty", "tax")
    facts = {pk: (rate, carriage + duty + tax) for pk, rate, carriage, duty, tax in paid}
    for delivery, group in groupby(_streamed(lines), key=lambda line: line[0]):
        invoiced = landed = 0
        rate, extra = facts.get(delivery, (0, 0))
        for _, lot, quantity, price, cost, entered, charged_money in group:
            tally.checked["deliveries"] += 1
            invoiced += convert(price, rate) if rate > 0 else 0
            landed += cost
            if (quantity, cost) != (entered, charged_money):
                told = f"delivered {quantity} at {cost}, but the ledger has {entered} at {charged_money}"
                tally.tell("deliveries", f"delivery {delivery}, lot {lot}", told)
        if landed != invoiced + extra:
            tally.tell("deliveries", f"delivery {delivery}", f"{landed} landed of {invoiced + extra} paid")


def _papers(using: str, tally: Tally) -> None:
    for kind, paper in PAPERS.items():
        of_kind = Posting.objects.using(using).filter(kind=kind)
        tally.checked["papers"] += of_kind.count()
        for number in of_kind.filter(**{f"{paper}__isnull": True}).values_list("number", flat=True):
            tally.tell("papers", f"posting {number}", f"its {kind.label.lower()} is gone")


def _rules(using: str, tally: Tally) -> None:
    tally.checked["rules"] += len(database_rules.rules(connections[using].vendor))
    for difference in database_rules.differences(using):
        tally.tell("rules", "the database", difference)


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
                tally.tell("file", "the database file", str(problem))
        cursor.execute("PRAGMA foreign_key_check")
        for table, row, parent, _ in cursor.fetchmany(20):
            tally.tell("file", f"{table}, row {row}", f"it names something in {parent} that is not there")
