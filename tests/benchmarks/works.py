"""The works that are measured, each beside its floor. Every one runs in a worker process, on a loaded database."""

import itertools
import resource
from collections.abc import Iterable, Sequence
from datetime import date, timedelta
from functools import partial
from typing import Any

from django.db import connection, transaction
from django.db.models import Model
from django.test.utils import CaptureQueriesContext

from inventory.ledger import verification as books
from inventory.ledger.models import Entry, LotBalance, MonthEnd, Posting
from inventory.recipes.actions.mixes import Ingredient, MixFacts
from inventory.sessions.actions.sessions import Dose, PourFacts, SessionFacts, log_session
from inventory.sessions.models import Session
from inventory.stock.queries import stock_list
from studio.auditing.models import ChangeSeal
from studio.auditing.sealed_rows import sealed_models
from tests import making
from tests.benchmarks.by_hand import ByHand
from tests.benchmarks.figures import Figure, side_by_side
from tests.benchmarks.ten_years import LAST_DAY
from tests.days import TODAY
from tests.faults import jobs
from tests.faults.jobs import Meet, Say, Tally
from tests.faults.real_databases import RealDatabase

keys = itertools.count(1)


class Bench:
    """A session of so many moves to be posted over and over: each mix is five moves, and each of its pours two."""

    def __init__(self, lines: int) -> None:
        self.owner = making.make_owner()
        paints = [making.make_material() for _ in range(4)]
        canvas = making.make_surface()
        plenty = [(material, 10**12, 10**12 // 70_000 * 10_000) for material in (*paints, canvas)]
        making.make_delivery(lines=plenty, by=self.owner)
        version = making.make_recipe(parts=[(paint, 1) for paint in paints])
        mixes, rest = divmod(lines, 30)
        if rest:
            raise ValueError("A mix with its pours makes thirty lines.")
        mix = MixFacts(version=version, ingredients=[Ingredient(paint, 25_000) for paint in paints])
        pours = [
            PourFacts(technique=making.the_technique(), doses=[Dose(20_000, mix=position)], surface=canvas)
            for position in range(mixes)
            for _ in range(5)
        ]
        self.facts = SessionFacts(held_on=TODAY, mixes=[mix] * mixes, pours=pours)

    def post(self) -> Session:
        return log_session(
            facts=self.facts, submission=making.make_submission(by=self.owner, key=f"benchmark {next(keys)}")
        )


def post_sessions(*, runs: int, say: Say, meet: Meet) -> list[Figure]:
    """Post a session through the real writer, beside the same inserts by hand: triggers, locks and flushes included."""
    figures = []
    for lines in (30, 60):
        bench = Bench(lines)
        with CaptureQueriesContext(connection) as statements:
            session = bench.post()
        posting = session.posting
        if posting.lines != lines:
            raise ValueError(f"The session has {posting.lines} lines, not {lines}.")
        hand = ByHand(posting)
        note = f"{len(statements)} statements"
        figures.append(
            side_by_side(f"P1 post a session of {lines} lines", bench.post, hand.post, runs=runs, note=note)
        )
        hand.close()
    return figures


def read_stock(*, runs: int, say: Say, meet: Meet) -> list[Figure]:
    """What the stock page shows, beside a bare sum of the balances."""
    with CaptureQueriesContext(connection) as statements:
        stock_list()
    note = f"{len(statements)} queries"
    return [
        side_by_side(
            "P2 stock and value of every material", stock_list, _bare_balances, runs=runs * 5, note=note
        )
    ]


def read_past_stock(*, runs: int, say: Say, meet: Meet) -> list[Figure]:
    """Stock at the end of a past day, beside a bare sum of all that had been entered by then."""
    figures = []
    for days, ago in ((30, "a month"), (365, "a year"), (1_825, "five years")):
        day = LAST_DAY - timedelta(days=days)
        work = f"P4 stock as it was {ago} ago"
        figures.append(
            side_by_side(work, partial(stock_list, as_of=day), partial(_bare_sums, day), runs=runs)
        )
    return figures


def check_books(*, runs: int, say: Say, meet: Meet) -> list[Figure]:
    """The whole check, beside reading the same rows and doing nothing with them. Runs before anything is added.

    The rows are the ledger's, what is worked out from them, and whatever the change log seals.
    """
    read: list[type[Model]] = [Posting, Entry, LotBalance, MonthEnd, ChangeSeal, *sealed_models()]
    floor = partial(_bare_stream, [model for model in read if model._default_manager.exists()])
    before = memory()
    if not books.check().is_clean:
        raise ValueError("The loaded books are not clean.")
    note = f"{memory() - before:.0f} MB more memory at its peak"
    return [side_by_side("P3 check the books", books.check, floor, runs=max(1, runs // 4), note=note)]


def write_together(database: RealDatabase, *, requests: int) -> list[Figure]:
    """The same requests by eight writers, beside as many by one: the time that each takes in all."""
    scene = database.do(jobs.stock_shelf, paint_in_lots=[jobs.PLENTY])
    seconds, tallies = [], []
    for writers in (8, 1):
        each = [
            {"scene": scene, "name": f"{writers} writers {number}", "count": requests * 8 // writers}
            for number in range(writers)
        ]
        tallies.append(Tally.together(database.together(jobs.log_and_write_off, each)))
        seconds.append(tallies[-1].seconds)
    note = f"{100 * seconds[1] / seconds[0]:.0f} % of one writer's rate, {len(tallies[0].errors)} failed"
    return [Figure(f"P11 {requests * 8} requests by eight writers", seconds[0], seconds[1], note)]


def _bare_balances() -> list[Any]:
    return rows_of(
        "SELECT l.material_id, SUM(b.quantity), SUM(b.money) FROM inventory_lotbalance b "
        "JOIN inventory_lot l ON l.id = b.lot_id WHERE b.quantity > 0 GROUP BY l.material_id"
    )


def _bare_sums(day: date) -> list[Any]:
    return rows_of(
        "SELECT e.lot_id, SUM(e.quantity), SUM(e.money) FROM inventory_entry e "
        "JOIN inventory_posting p ON p.number = e.posting_id "
        "WHERE e.lot_id IS NOT NULL AND p.effective_on <= %s GROUP BY e.lot_id",
        [day],
    )


def _bare_stream(models: Iterable[type[Model]]) -> int:
    """Every column of these tables, in order, a few thousand rows at a time."""
    name, read = connection.ops.quote_name, 0
    for model in models:
        columns = ", ".join(name(str(column.column)) for column in model._meta.concrete_fields)
        order = "posting_id, line" if model is Entry else name(str(model._meta.pk.column))
        statement = f"SELECT {columns} FROM {name(model._meta.db_table)} ORDER BY {order}"
        with connection.chunked_cursor() as cursor, transaction.atomic():
            cursor.execute(statement)
            while rows := cursor.fetchmany(books.ROWS_AT_A_TIME):
                read += len(rows)
    return read


def rows_of(statement: str, values: Sequence[Any] | None = None) -> list[Any]:
    with connection.cursor() as cursor:
        cursor.execute(statement, values)
        return list(cursor.fetchall())


def memory() -> float:
    """The most memory this process has had so far, in megabytes."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
