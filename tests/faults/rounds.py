"""The full rounds: every story of a broken world, how large it is by default, and on which databases it can be told."""

import argparse
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

from tests.faults import (
    backups_under_load,
    clocks,
    contention,
    crashes,
    double_clicks,
    imports,
    large_logs,
    logs,
    mailing,
    out_of_reach,
    page_edits,
    swaps,
    tampering,
    three_tills,
    through_http,
    wrong_logic,
)
from tests.faults.real_databases import RealDatabase

# A fresh ledger now and then, since every round looks all of it through.
ROUNDS_A_LEDGER, BACKUPS_A_LEDGER = 20, 10
CLIENTS = WRITERS = 8

# What can be asked for: name, how much by default, what it is.
SIZES = (
    ("requests", 200, "requests that each of 8 writers makes"),
    ("racers", 50, "senders of the same form at once"),
    ("rounds", 200, "times that writers and web workers are killed"),
    ("stops", 20, "times that a private server is stopped"),
    ("failures", 20, "times that the disk is full"),
    ("outages", 10, "times that the database goes away"),
    ("seeds", 20, "random histories"),
    ("operations", 10_000, "operations in each random history"),
    ("edits", 5, "rows in which each column of the ledger is edited"),
    ("file-edits", 100, "bits turned over in copies of an SQLite file"),
    ("backups", 50, "backups made under load and restored"),
    ("clock-turns", 1_000, "postings by clocks that are wrong"),
    ("mail-kills", 100, "times that the mailing of alerts is killed"),
    ("imports", 50, "times that an import dies"),
)


@dataclass(frozen=True)
class Story:
    """One story at its full size: what it is called in the printed table, and how it is told on a database."""

    name: str
    tell: Callable[[RealDatabase], Any]


def stories(asked: argparse.Namespace) -> Iterator[Story]:
    """Every story that can be told on either database."""
    yield from _many_at_once(asked)
    yield from _killed(asked)
    yield from _out_of_reach(asked)
    yield from _tampered(asked)
    yield from _kept(asked)
    seed = asked.seed
    yield Story(
        f"{asked.clock_turns} postings by wrong clocks",
        lambda on: clocks.wrong_clocks(on, count=asked.clock_turns, seed=seed),
    )
    yield Story("6 zones, 2 changes of the clock in each", lambda on: clocks.round_the_clock(on, step=15))
    yield Story("mail servers that fail, in 7 ways", lambda on: mailing.servers_that_fail(on, rounds=3))
    yield Story(
        f"mailing killed × {asked.mail_kills}",
        lambda on: mailing.kill_while_mailing(on, kills=asked.mail_kills, seed=seed),
    )
    yield Story("mailing by 4 runs at once × 20", lambda on: mailing.mailing_at_once(on, rounds=20, runs=4))
    yield Story(
        f"imports that die × {asked.imports}",
        lambda on: imports.imports_that_die(on, deaths=asked.imports, seed=seed),
    )
    yield Story("logs in JSON", logs.json_logs)


def sqlite_stories(asked: argparse.Namespace) -> Iterator[Story]:
    """What can be arranged for SQLite's own files."""
    yield Story(
        f"files may not grow × {asked.failures}",
        lambda on: crashes.stop_writing_files(on, failures=asked.failures, seed=asked.seed),
    )
    yield Story(
        f"bits turned over in files × {asked.file_edits}",
        lambda on: tampering.edited_files(on, count=asked.file_edits, seed=asked.seed),
    )
    yield Story("write-ahead log past 256 MB", large_logs.log_that_grows)


def histories(asked: argparse.Namespace) -> Iterator[Story]:
    """Random histories against plain books; each stands alone, so some can be told at once."""
    for seed in range(asked.seed, asked.seed + asked.seeds):
        yield Story(
            f"{asked.operations} random operations, seed {seed}",
            lambda on, seed=seed: wrong_logic.random_history(  # type: ignore[misc]
                on, seed=seed, operations=asked.operations
            ),
        )


def _many_at_once(asked: argparse.Namespace) -> Iterator[Story]:
    yield Story(
        f"8 writers × {asked.requests} requests on the same lots",
        lambda on: contention.many_writers(on, writers=WRITERS, requests=asked.requests),
    )
    yield Story(
        "800 takes against 300", lambda on: contention.never_oversold(on, takers=8, takes=100, held=300)
    )
    yield Story(
        f"20 keys × {asked.racers} senders at once",
        lambda on: contention.double_sends(on, keys=20, racers=asked.racers),
    )
    yield Story(
        f"20 keys × {asked.racers} senders at once, by HTTP",
        lambda on: double_clicks.double_clicks(on, keys=20, racers=asked.racers),
    )
    yield Story(
        "200 postings reversed by two at once", lambda on: contention.raced_reversals(on, postings=200)
    )
    yield Story("100 pieces sold by two at once", lambda on: contention.raced_sales(on, pieces=100))
    yield Story("50 pieces sold in three ways at once", lambda on: three_tills.three_tills(on, pieces=50))
    yield Story("8 pages saved by two at once × 25", lambda on: page_edits.raced_edits(on, rounds=25))


def _killed(asked: argparse.Namespace) -> Iterator[Story]:
    yield Story(
        f"kill -9 of web workers × {asked.rounds}",
        lambda on: through_http.kill_web_workers(on, kills=asked.rounds, clients=CLIENTS, seed=asked.seed),
    )
    for first in range(0, asked.rounds, ROUNDS_A_LEDGER):
        rounds = min(ROUNDS_A_LEDGER, asked.rounds - first)
        yield Story(
            f"kill -9 of two writers, {first + 1} to {first + rounds}",
            lambda on, rounds=rounds, seed=asked.seed + first: crashes.kill_writers(  # type: ignore[misc]
                on, rounds=rounds, writers=2, seed=seed
            ),
        )


def _out_of_reach(asked: argparse.Namespace) -> Iterator[Story]:
    yield Story(
        f"database full × {asked.failures}",
        lambda on: crashes.fill_the_disk(on, failures=asked.failures, seed=asked.seed),
    )
    yield Story(
        f"database full, by forms × {asked.failures}",
        lambda on: out_of_reach.forms_on_a_full_disk(on, failures=asked.failures, seed=asked.seed),
    )
    yield Story(
        f"database goes away × {asked.outages}",
        lambda on: out_of_reach.database_goes_away(on, rounds=asked.outages),
    )


def _tampered(asked: argparse.Namespace) -> Iterator[Story]:
    yield Story("every way round Python", tampering.every_way_round)
    yield Story(
        f"each column edited in {asked.edits} rows",
        lambda on: tampering.direct_edits(on, rows=asked.edits, seed=asked.seed),
    )


def _kept(asked: argparse.Namespace) -> Iterator[Story]:
    for first in range(0, asked.backups, BACKUPS_A_LEDGER):
        rounds = min(BACKUPS_A_LEDGER, asked.backups - first)
        yield Story(
            f"backups under load, {first + 1} to {first + rounds}",
            lambda on, rounds=rounds, seed=asked.seed + first: backups_under_load.back_up_under_load(  # type: ignore[misc]
                on, rounds=rounds, writers=2, seed=seed
            ),
        )
    yield Story("restore killed at every step of its swap", swaps.swaps_that_die)
