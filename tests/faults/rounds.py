"""The full rounds: every story of a broken world, and on which databases it can be told."""

import argparse
from collections.abc import Iterator
from functools import partial

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
from tests.faults.stories import EACH_FLUSHED, FLUSHES, NOTHING_LOST, Story, in_parts

# A fresh ledger now and then, since every round looks all of it through, and a run that ends early has told some parts.
ROUNDS_A_LEDGER, BACKUPS_A_LEDGER, STOPS_A_LEDGER = 20, 10, 5
KILLS_A_SERVER = 50
CLIENTS = 8


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
    yield from in_parts(
        "PostgreSQL stopped as by a power cut",
        asked.stops,
        "stops under 4 writers",
        NOTHING_LOST,
        lambda on, rounds, seed: crashes.stop_the_server(cluster, on, stops=rounds, writers=4, seed=seed),
        each=STOPS_A_LEDGER,
        seed=asked.seed,
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
    yield from in_parts(
        "a standby takes over from PostgreSQL",
        asked.take_overs,
        "primaries stopped at once or killed, under 4 writers",
        f"{NOTHING_LOST}, the web server goes on without a restart",
        partial(standbys.standby_takes_over, pair, writers=4),
        each=STOPS_A_LEDGER,
        seed=asked.seed,
    )


def _killed(asked: argparse.Namespace) -> Iterator[Story]:
    yield from in_parts(
        "web workers killed (kill -9)",
        asked.rounds,
        "kills under 8 programs",
        NOTHING_LOST,
        lambda on, rounds, seed: through_http.kill_web_workers(on, kills=rounds, clients=CLIENTS, seed=seed),
        each=KILLS_A_SERVER,
        seed=asked.seed,
    )
    yield from in_parts(
        "two writers killed (kill -9)",
        asked.rounds,
        "rounds, two kills in each",
        NOTHING_LOST,
        partial(crashes.kill_writers, writers=2),
        each=ROUNDS_A_LEDGER,
        seed=asked.seed,
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
    yield from in_parts(
        "backups while people work",
        asked.backups,
        "backups, each restored",
        "all restored as the books were at one moment, photos too",
        partial(backups_under_load.back_up_under_load, writers=2),
        each=BACKUPS_A_LEDGER,
        seed=asked.seed,
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
