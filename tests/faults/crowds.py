"""The stories of the full rounds in which many do something at the same moment."""

import argparse
from collections.abc import Iterator

from tests.faults import (
    contention,
    double_clicks,
    page_edits,
    raced_codes,
    raced_keys,
    three_tills,
    two_hosts,
)
from tests.faults.stories import NO_ERRORS, Story

TAKERS = WRITERS = 8


def many_at_once(asked: argparse.Namespace) -> Iterator[Story]:
    requests, takes, racers = asked.requests, asked.takes, asked.racers
    yield Story(
        "8 writers on the same lots",
        WRITERS * requests,
        "postings",
        NO_ERRORS,
        lambda on: contention.many_writers(on, writers=WRITERS, requests=requests),
    )
    yield Story(
        "more is taken than there is",
        TAKERS * takes,
        "takes against 300",
        "exactly 300 given",
        lambda on: contention.never_oversold(on, takers=TAKERS, takes=takes, held=300),
    )
    once = "20 postings, one answer each; with other contents refused"
    yield Story(
        "a form sent by many at once",
        20 * racers,
        "sendings of 20 keys",
        once,
        lambda on: contention.double_sends(on, keys=20, racers=racers),
    )
    yield Story(
        "the same by pages and programs",
        20 * racers,
        "sendings of 20 keys",
        f"{once} (422)",
        lambda on: double_clicks.double_clicks(on, keys=20, racers=racers),
    )
    yield Story(
        "the same by programs alone",
        20 * racers,
        "sendings of 20 keys",
        "201 once for each key, 200 for everybody else",
        lambda on: raced_keys.raced_keys(on, keys=20, racers=racers),
    )
    yield Story(
        "ten browsers race one sign-in code",
        asked.logins,
        "codes",
        f"one let in, nine refused; {NO_ERRORS}",
        lambda on: raced_codes.raced_codes(on, rounds=asked.logins),
    )
    yield Story(
        "the same by pages and programs at two web servers",
        20 * racers,
        "sendings of 20 keys, and 10 photos",
        f"{once} (422); photos and sign-in at both",
        lambda on: two_hosts.two_hosts(on, keys=20, racers=racers, photos=10),
    )
    yield from _two_at_once()


def _two_at_once() -> Iterator[Story]:
    yield Story(
        "a posting reversed by two at once",
        200,
        "postings",
        "each once",
        lambda on: contention.raced_reversals(on, postings=200),
    )
    yield Story(
        "a piece sold by two at once",
        100,
        "pieces",
        "each once",
        lambda on: contention.raced_sales(on, pieces=100),
    )
    yield Story(
        "a piece sold in three ways at once",
        50,
        "pieces",
        "each once",
        lambda on: three_tills.three_tills(on, pieces=50),
    )
    yield Story(
        "a row saved by two at once",
        25 * len(page_edits.PAGES),
        f"saves of {len(page_edits.PAGES)} pages by each",
        "one saved, the other told",
        lambda on: page_edits.raced_edits(on, rounds=25),
    )
    yield Story(
        "owners who change each other at once",
        100,
        "rounds",
        "nobody waits in a circle",
        lambda on: page_edits.owners_who_change_each_other(on, rounds=100),
    )
