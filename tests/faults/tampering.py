"""Tampering with the books: by every way round Python, by edits of their rows, and by edits of their very file."""

import random
import shutil
import sqlite3
from contextlib import closing
from dataclasses import dataclass
from http import HTTPStatus
from pathlib import Path

from django.db import DatabaseError, IntegrityError, connection, transaction

from inventory.ledger import verification as books
from tests.faults.jobs import Meet, Say
from tests.faults.page_jobs import Bench
from tests.faults.real_databases import RealDatabase
from tests.inventory.edits import Edits, edits, rules_taken_off, try_all
from tests.inventory.forging import make_scene
from tests.inventory.invariants import assert_books_hold, everything
from tests.inventory.side_doors import ATTEMPTS
from tests.inventory.tampering import live_through_a_fortnight

LEDGER = ("inventory_entry", "inventory_posting", "inventory_lotbalance", "inventory_books")


@dataclass
class Attempts:
    """What a run of attempts came to."""

    routes: int = 0
    attempts: int = 0
    succeeded: int = 0


def every_way_round(database: RealDatabase) -> Attempts:
    """Statements, bulk calls, fixtures, truncation, pages and programs: not one of them changes what was posted."""
    attempts: Attempts = database.do(try_every_way)
    assert attempts.succeeded == 0
    assert attempts.routes >= 12
    return attempts


def direct_edits(database: RealDatabase, *, rows: int, seed: int) -> Edits:
    """Every column of the ledger edited in so many rows with the rules off, and each rule dropped: all of it found."""
    told: Edits = database.do(edit_rows, rows=rows, seed=seed)
    assert told.missed == ()
    assert told.found >= 50
    return told


def edited_files(database: RealDatabase, *, count: int, seed: int) -> Edits:
    """One bit of one row of the ledger turned over in a copy of SQLite's file: all of it found."""
    database.do(live)
    chance, found, missed = random.Random(seed), 0, []
    with closing(sqlite3.connect(database.file)) as opened:
        opened.execute("PRAGMA journal_mode=DELETE")
        pages = opened.execute(
            f"SELECT name, pageno, pgsize FROM dbstat WHERE pagetype = 'leaf' AND name IN {LEDGER}"
        ).fetchall()
    for turn in range(count):
        table, number, size = chance.choice(pages)
        copy = RealDatabase(f"sqlite:///{database.file}-edited-{turn}")
        shutil.copy(database.file, copy.file)
        place = _turn_a_bit(copy.file, (number - 1) * size, chance)
        if copy.do(is_found):
            found += 1
        else:
            missed.append(f"{table}, byte {place}")
    assert missed == []
    return Edits(found)


def _turn_a_bit(file: Path, page: int, chance: random.Random) -> int:
    """Turn one bit over in a row on a leaf page, whose cells are found by the page's own list of them."""
    content = bytearray(file.read_bytes())
    start = page + (100 if page == 0 else 0)
    cells = int.from_bytes(content[start + 3 : start + 5], "big")
    pointer = start + 8 + 2 * chance.randrange(cells)
    cell = page + int.from_bytes(content[pointer : pointer + 2], "big")
    length = content[cell] if content[cell] < 128 else (content[cell] & 127) * 128 + content[cell + 1]
    place = cell + chance.randrange(2, length)
    content[place] ^= 1 << chance.randrange(8)
    file.write_bytes(content)
    return place


# What the workers do


def try_every_way(*, say: Say, meet: Meet) -> Attempts:
    """Try each attempt in a transaction of its own, then the pages and the programs' addresses."""
    scene, made = make_scene(), Attempts()
    bench, routes = Bench(scene.owner), set[str]()
    before = everything()
    for attempts in ATTEMPTS.values():
        for attempt in attempts:
            if attempt.only not in ("", connection.vendor):
                continue
            routes.add(attempt.route)
            made.attempts += 1
            try:
                with transaction.atomic():
                    attempt.go(scene)
            except IntegrityError:
                assert everything() == before
            else:
                made.succeeded += 1
    for path in ("postings/1/", "lots/1/", "deliveries/1/"):
        for method in ("put", "patch", "delete"):
            routes.add(f"a program's {method}")
            made.attempts += 1
            made.succeeded += bench.program(method, f"/api/{path}") != HTTPStatus.METHOD_NOT_ALLOWED
    assert everything() == before
    assert_books_hold()
    made.routes = len(routes)
    return made


def live(*, say: Say, meet: Meet) -> None:
    live_through_a_fortnight()


def edit_rows(*, rows: int, seed: int, say: Say, meet: Meet) -> Edits:
    live_through_a_fortnight()
    told, dropped = try_all(edits(rows=rows, seed=seed)), rules_taken_off()
    return Edits(told.found + dropped.found, told.refused, told.missed + dropped.missed)


def is_found(*, say: Say, meet: Meet) -> bool:
    """Whether a check of the books finds a break in them, or cannot read them at all."""
    try:
        return not books.check().is_clean
    except DatabaseError:
        return True
