"""The full rounds: every story of a broken world, and on which databases it can be told."""

import argparse
from collections.abc import Iterator
from typing import NamedTuple

from tests.faults import (
    backups_under_load,
    clocks,
    crashes,
    imports,
    large_logs,
    leftover_logs,
    logs,
    mailing,
    out_of_reach,
    standbys,
    swaps,
    tampering,
    through_http,
    traced,
    wrong_logic,
)
from tests.faults.crowds import many_at_once
from tests.faults.private_cluster import Pair, PrivateCluster
from tests.faults.stories import EACH_FLUSHED, FLUSHES, NOTHING_LOST, Story

# A fresh ledger now and then, since every round looks all of it through, and a run that ends early has told some parts.
ROUNDS_A_LEDGER, BACKUPS_A_LEDGER, STOPS_A_LEDGER = 20, 10, 5
KILLS_A_SERVER = 50
CLIENTS = 8


class Part(NamedTuple):
    """Some rounds of a story, told on a ledger of their own."""

    before: int
    rounds: int

    @property
    def name(self) -> str:
        return f"{self.before + 1} to {self.before + self.rounds}"


def parts(rounds: int, each: int) -> list[Part]:
    return [Part(before, min(each, rounds - before)) for before in range(0, rounds, each)]


def stories(asked: argparse.Namespace) -> Iterator[Story]:
    """Every story that can be told on either database."""
    yield from many_at_once(asked)
    yield from _killed(asked)
    yield from _out_of_reach(asked)
    yield from _tampered(asked)
    yield from _kept(asked)
    yield from _clocks(asked)
    yield from _mail(asked)
    yield Story(
        "an import dies midway",
        asked.imports,
        "deaths, and as many files with a bad row",
        "all of a file or nothing, and once",
        lambda on: imports.imports_that_die(on, deaths=asked.imports, seed=asked.seed),
    )
    yield Story("a bad day logged as JSON", 1, "day", "one object a line, 0 secrets", logs.json_logs)


def sqlite_stories(asked: argparse.Namespace) -> Iterator[Story]:
    """What can be arranged for SQLite's own files."""
    yield Story(
        "files may not grow any further",
        asked.failures,
        "failures",
        NOTHING_LOST,
        lambda on: crashes.stop_writing_files(on, failures=asked.failures, seed=asked.seed),
    )
    yield Story(
        "a bit turned over in the file",
        asked.file_edits,
        "bits",
        "all found",
        lambda on: tampering.edited_files(on, count=asked.file_edits, seed=asked.seed),
    )
    yield Story(
        "a write-ahead log past 256 MB",
        1,
        "log",
        "the owner is told, and it shrinks again",
        large_logs.log_that_grows,
    )
    yield Story(
        "a restore beside the log of other books",
        asked.leftovers,
        "restores, a writer killed before each",
        "0 wrong",
        lambda on: leftover_logs.logs_left_behind(on, rounds=asked.leftovers),
    )
    if traced.strace:
        yield Story(
            FLUSHES,
            asked.commits,
            "commits",
            EACH_FLUSHED,
            lambda on: traced.flushed_commits(on, count=asked.commits),
        )


def histories(asked: argparse.Namespace) -> Iterator[Story]:
    """Random histories against plain books; each stands alone, so some can be told at once."""
    for seed in range(asked.seed, asked.seed + asked.seeds):
        yield Story(
            "wrong logic anywhere",
            1,
            f"histories of {asked.operations:,} random operations",
            "0 disagreements with plain books",
            lambda on, seed=seed: wrong_logic.random_history(  # type: ignore[misc]
                on, seed=seed, operations=asked.operations
            ),
            part=f"seed {seed}",
        )


def stopped(asked: argparse.Namespace, cluster: PrivateCluster) -> Iterator[Story]:
    """What a server that is stopped does to writers: with care and, to show that a loss would be seen, without."""
    for part in parts(asked.stops, STOPS_A_LEDGER):
        yield Story(
            "PostgreSQL stopped as by a power cut",
            part.rounds,
            "stops under 4 writers",
            NOTHING_LOST,
            lambda on, part=part: crashes.stop_the_server(  # type: ignore[misc]
                cluster, on, stops=part.rounds, writers=4, seed=asked.seed + part.before
            ),
            part.name,
        )
    careless = max(1, asked.stops // 4)
    yield Story(
        "the same without care (synchronous_commit off)",
        careless,
        "stops under 4 writers",
        "some lost: the count can tell. The service refuses to start so",
        lambda on: crashes.stop_the_server(
            cluster, on, stops=careless, writers=4, seed=asked.seed, careful=False
        ),
    )
    yield Story(
        "PostgreSQL stopped under a web server",
        asked.outages,
        "stops",
        "503 in words, entries kept, on without a restart",
        lambda on: out_of_reach.server_goes_away(cluster, on, rounds=asked.outages),
    )
    yield Story(
        FLUSHES,
        asked.commits,
        "commits",
        EACH_FLUSHED,
        lambda on: traced.server_flushes(cluster, on, count=asked.commits),
    )


def taken_over(asked: argparse.Namespace, pair: Pair) -> Iterator[Story]:
    """What becomes of the books when PostgreSQL's machine is gone and its standby takes over."""
    for part in parts(asked.take_overs, STOPS_A_LEDGER):
        yield Story(
            "a standby takes over from PostgreSQL",
            part.rounds,
            "primaries stopped at once or killed, under 4 writers",
            f"{NOTHING_LOST}, the web server goes on without a restart",
            lambda on, part=part: standbys.standby_takes_over(  # type: ignore[misc]
                pair, on, rounds=part.rounds, writers=4, seed=asked.seed + part.before
            ),
            part.name,
        )


def _killed(asked: argparse.Namespace) -> Iterator[Story]:
    for part in parts(asked.rounds, KILLS_A_SERVER):
        yield Story(
            "web workers killed (kill -9)",
            part.rounds,
            "kills under 8 programs",
            NOTHING_LOST,
            lambda on, part=part: through_http.kill_web_workers(  # type: ignore[misc]
                on, kills=part.rounds, clients=CLIENTS, seed=asked.seed + part.before
            ),
            part.name,
        )
    for part in parts(asked.rounds, ROUNDS_A_LEDGER):
        yield Story(
            "two writers killed (kill -9)",
            part.rounds,
            "rounds, two kills in each",
            NOTHING_LOST,
            lambda on, part=part: crashes.kill_writers(  # type: ignore[misc]
                on, rounds=part.rounds, writers=2, seed=asked.seed + part.before
            ),
            part.name,
        )


def _out_of_reach(asked: argparse.Namespace) -> Iterator[Story]:
    yield Story(
        "the disk full",
        asked.failures,
        "failures",
        NOTHING_LOST,
        lambda on: crashes.fill_the_disk(on, failures=asked.failures, seed=asked.seed),
    )
    yield Story(
        "the disk full, by forms",
        asked.failures,
        "failures",
        "507 in words, entries kept, posted once",
        lambda on: out_of_reach.forms_on_a_full_disk(on, failures=asked.failures, seed=asked.seed),
    )
    yield Story(
        "the database goes away",
        asked.outages,
        "outages",
        "503 in words, entries kept, on without a restart",
        lambda on: out_of_reach.database_goes_away(on, rounds=asked.outages),
    )


def _tampered(asked: argparse.Namespace) -> Iterator[Story]:
    yield Story(
        "ways round Python", 1, "run of every way", "at least 12 routes, 0 succeed", tampering.every_way_round
    )
    yield Story(
        "each column of the ledger edited",
        asked.edits,
        "rows, and each rule dropped",
        "all found or refused",
        lambda on: tampering.direct_edits(on, rows=asked.edits, seed=asked.seed),
    )


def _kept(asked: argparse.Namespace) -> Iterator[Story]:
    for part in parts(asked.backups, BACKUPS_A_LEDGER):
        yield Story(
            "backups while people work",
            part.rounds,
            "backups, each restored",
            "all restored as the books were at one moment, photos too",
            lambda on, part=part: backups_under_load.back_up_under_load(  # type: ignore[misc]
                on, rounds=part.rounds, writers=2, seed=asked.seed + part.before
            ),
            part.name,
        )
    yield Story(
        "a restore killed at each step of its swap",
        1,
        "run of every step",
        "old books or new ones, never a mixture",
        swaps.swaps_that_die,
    )


def _clocks(asked: argparse.Namespace) -> Iterator[Story]:
    yield Story(
        "clocks 2 hours back, a day ahead, in 1970",
        asked.clock_turns,
        "postings",
        "order and recorded time stand, 1970 refused",
        lambda on: clocks.wrong_clocks(on, count=asked.clock_turns, seed=asked.seed),
    )
    yield Story(
        "days on which clocks change",
        12,
        "days in 6 zones",
        "days sum to months",
        lambda on: clocks.round_the_clock(on, step=15),
    )


def _mail(asked: argparse.Namespace) -> Iterator[Story]:
    yield Story(
        "mail servers that fail",
        3,
        "rounds of 7 ways",
        "0 alerts lost",
        lambda on: mailing.servers_that_fail(on, rounds=3),
    )
    yield Story(
        "mailing killed (kill -9)",
        asked.mail_kills,
        "kills",
        "0 alerts lost, repeats under the same Message-ID",
        lambda on: mailing.kill_while_mailing(on, kills=asked.mail_kills, seed=asked.seed),
    )
    yield Story(
        "4 runs of the mailing at once",
        20,
        "rounds",
        "0 alerts lost, 0 sent twice",
        lambda on: mailing.mailing_at_once(on, rounds=20, runs=4),
    )
