"""The rules of the books, read straight from the rows by plain arithmetic, without the code under test."""

from collections import Counter, defaultdict
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import date
from itertools import groupby
from typing import TypeVar

import pytest
from django.db import connection

from inventory.errors import InventoryError
from inventory.ledger.models import Books, Entry, LotBalance, Posting
from studio.errors import InputError
from tests.inventory.posting_seals import posting_hash

Pair = tuple[int, int]
Refusal = TypeVar("Refusal", bound=InventoryError)


def assert_books_hold() -> None:
    """Assert every rule of the ledger from its rows alone."""
    connection.check_constraints()
    postings = list(Posting.objects.order_by("number"))
    entries = list(Entry.objects.order_by("posting_id", "line"))
    by_posting = {
        number: list(group) for number, group in groupby(entries, key=lambda entry: entry.posting_id)
    }
    _assert_every_posting_balances(postings, by_posting)
    _assert_the_chain_is_whole(postings, by_posting)
    _assert_balances_are_the_sums(entries)
    _assert_no_day_ends_below_zero(entries)
    _assert_every_millionth_is_in_one_place(entries)
    _assert_reversals_mirror(postings, by_posting)
    _assert_keys_posted_once(postings)


def _assert_every_posting_balances(postings: list[Posting], by_posting: dict[int, list[Entry]]) -> None:
    assert set(by_posting) == {posting.number for posting in postings}
    for posting in postings:
        lines = by_posting[posting.number]
        assert [entry.line for entry in lines] == list(range(1, posting.lines + 1))
        assert sum(entry.money for entry in lines) == 0
        by_material: Counter[int] = Counter()
        for entry in lines:
            by_material[entry.material_id] += entry.quantity
        assert not any(by_material.values())
        for gave, took in zip(lines[::2], lines[1::2], strict=True):
            assert (gave.material_id, -gave.quantity, -gave.money) == (
                took.material_id,
                took.quantity,
                took.money,
            )
            assert type(gave.quantity) is type(gave.money) is int


def _assert_the_chain_is_whole(postings: list[Posting], by_posting: dict[int, list[Entry]]) -> None:
    assert [posting.number for posting in postings] == list(range(1, len(postings) + 1))
    link, recorded = "0" * 64, None
    for posting in postings:
        assert posting.previous_hash == link
        assert posting.hash == posting_hash(posting, by_posting[posting.number])
        assert recorded is None or posting.recorded_at >= recorded
        link, recorded = posting.hash, posting.recorded_at
    head = Books.objects.get()
    assert (head.last_number, head.last_hash, head.last_recorded_at) == (len(postings), link, recorded)


def _assert_balances_are_the_sums(entries: list[Entry]) -> None:
    running: dict[int, Pair] = {}
    for _, lines in groupby(entries, key=lambda entry: entry.posting_id):
        touched = set()
        for entry in lines:
            if entry.lot_id is not None:
                quantity, money = running.get(entry.lot_id, (0, 0))
                running[entry.lot_id] = quantity + entry.quantity, money + entry.money
                touched.add(entry.lot_id)
        for quantity, money in (running[lot] for lot in touched):
            assert quantity >= 0
            assert money >= 0
            assert quantity > 0 or money == 0
    assert running == {
        lot: (q, m) for lot, q, m in LotBalance.objects.values_list("lot_id", "quantity", "money")
    }


def _assert_no_day_ends_below_zero(entries: list[Entry]) -> None:
    by_day: dict[int, dict[date, Pair]] = defaultdict(lambda: defaultdict(lambda: (0, 0)))
    for entry in entries:
        if entry.lot_id is not None:
            quantity, money = by_day[entry.lot_id][entry.effective_on]
            by_day[entry.lot_id][entry.effective_on] = quantity + entry.quantity, money + entry.money
    for days in by_day.values():
        quantity = money = 0
        for day in sorted(days):
            quantity, money = quantity + days[day][0], money + days[day][1]
            assert quantity >= 0
            assert money >= 0
            assert quantity > 0 or money == 0


def _assert_every_millionth_is_in_one_place(entries: list[Entry]) -> None:
    """Receipts + gains = on hand + in work + sold + losses, in money; the mixing cup is always empty of it."""
    money: Counter[str] = Counter()
    work: dict[tuple[str, int | None, int], Pair] = defaultdict(lambda: (0, 0))
    for entry in entries:
        money[entry.place] += entry.money
        if entry.place in ("work", "sold"):
            spot = entry.place, entry.pour_id, entry.material_id
            quantity, cost = work[spot]
            work[spot] = quantity + entry.quantity, cost + entry.money
    on_hand = sum(LotBalance.objects.values_list("money", flat=True))
    assert -money["outside"] - money["gain"] == on_hand + money["work"] + money["sold"] + money["loss"]
    assert money["mix"] == 0
    for quantity, cost in work.values():
        assert quantity >= 0
        assert cost >= 0
        assert quantity > 0 or cost == 0


def _assert_reversals_mirror(postings: list[Posting], by_posting: dict[int, list[Entry]]) -> None:
    reversed_numbers = [posting.reverses_id for posting in postings if posting.reverses_id is not None]
    assert len(reversed_numbers) == len(set(reversed_numbers))
    is_corrected = any(posting.corrects_id for posting in postings)
    for posting in postings:
        if posting.reverses_id is None:
            continue
        assert posting.kind == "reversal"
        mirror = [(*_spot(entry), -entry.quantity, -entry.money) for entry in by_posting[posting.reverses_id]]
        lines = by_posting[posting.number]
        assert [(*_spot(e), e.quantity, e.money) for e in lines[: len(mirror)]] == mirror
        assert is_corrected or not any(entry.quantity for entry in lines[len(mirror) :])


def _spot(entry: Entry) -> tuple[object, ...]:
    return (
        entry.line,
        entry.place,
        entry.material_id,
        entry.lot_id,
        entry.mix_id,
        entry.pour_id,
        entry.reason_id,
    )


def _assert_keys_posted_once(postings: list[Posting]) -> None:
    keys = [(posting.recorded_by_id, posting.key) for posting in postings if posting.key]
    assert len(keys) == len(set(keys))


def everything() -> dict[str, object]:
    """How many rows every table has, and all that the ledger's own tables hold."""
    with connection.cursor() as cursor:
        tables = connection.introspection.table_names(cursor)
        cursor.execute(" UNION ALL ".join(f"SELECT '{table}', COUNT(*) FROM {table}" for table in tables))
        found: dict[str, object] = dict(cursor.fetchall())
    for model in (Books, LotBalance, Posting, Entry):
        found[model.__name__] = list(model._default_manager.order_by("pk").values_list())
    return found


@contextmanager
def unchanged() -> Iterator[None]:
    """Assert that what happens inside leaves every table as it was."""
    before = everything()
    yield
    assert everything() == before


@contextmanager
def refused(error: type[Refusal], *, match: str | None = None) -> Iterator[pytest.ExceptionInfo[Refusal]]:
    """Assert that what happens inside is refused in words that match, and leaves every table as it was."""
    with unchanged(), pytest.raises(error, match=match) as refusal:
        yield refusal


def wrong_places(make: Callable[[], object]) -> list[tuple[str, int, str | None] | str | None]:
    """Where everything stands that is refused: the list, line and field, or the field alone. Nothing is written."""
    with pytest.raises(InputError) as refusal, unchanged():
        make()
    return [
        problem.field if problem.line is None else (problem.rows, problem.line, problem.field)
        for problem in refusal.value.problems
    ]
