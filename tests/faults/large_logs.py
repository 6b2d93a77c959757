"""A reader that never ends keeps SQLite's write-ahead log growing: the owner is told, until it is over."""

import logging
import sqlite3
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

from django.db import connection

from studio.accounts.models import User
from studio.operations import checks
from tests.faults import jobs
from tests.faults.jobs import Meet, Say, Scene
from tests.faults.page_jobs import Bench
from tests.faults.real_databases import RealDatabase

WORDS = "keeps growing"


@dataclass
class Alarm:
    """How far the log grew before the alarm, and how large it was when the reader had gone, in bytes."""

    bytes_at_the_alarm: int = 0
    bytes_afterwards: int = 0


def log_that_grows(database: RealDatabase, *, limit: int = checks.LARGEST_LOG) -> Alarm:
    """The alarm comes when the log passes the limit, in the log, to /health/ready and on the page Backups."""
    scene: Scene = database.do(jobs.stock_shelf, paint_in_lots=[jobs.PLENTY])
    alarm: Alarm = database.do(let_it_grow, scene=scene, limit=limit)
    database.do(jobs.look_through)
    assert alarm.bytes_at_the_alarm > limit > alarm.bytes_afterwards
    return alarm


def let_it_grow(*, scene: Scene, limit: int, say: Say, meet: Meet) -> Alarm:
    checks.LARGEST_LOG = limit
    bench, log = Bench.at(scene), Path(f"{connection.settings_dict['NAME']}-wal")
    with connection.cursor() as cursor:  # a studio's own limit, but in keeping with a small one here
        cursor.execute("PRAGMA journal_size_limit")
        given = cursor.fetchone()[0]
        assert 0 < given < 256 * 1024**2
        cursor.execute(f"PRAGMA journal_size_limit = {min(given, limit // 4)}")
        cursor.execute(f"PRAGMA wal_autocheckpoint = {min(1_000, limit // 16_384)}")
    with closing(sqlite3.connect(connection.settings_dict["NAME"])) as reader:
        reader.execute("BEGIN")
        reader.execute("SELECT COUNT(*) FROM inventory_posting").fetchone()
        assert _told(bench) == (False, False, 0)
        while log.stat().st_size <= limit:
            jobs.spill(scene, 1)
        grew_to = log.stat().st_size
        assert _told(bench) == (True, True, 1)
    for _ in range(3):
        jobs.spill(scene, 1)
    assert _told(bench) == (False, False, 0)
    return Alarm(grew_to, log.stat().st_size)


def _told(bench: Bench) -> tuple[bool, bool, int]:
    """What the owner hears at /health/ready and on the page Backups, and how many warnings of it are logged."""
    heard: list[str] = []

    class Ear(logging.Handler):
        def emit(self, record: logging.LogRecord) -> None:
            heard.append(record.getMessage())

    ear, keeper = Ear(), logging.getLogger("meniscus.health")
    keeper.addHandler(ear)
    logging.getLogger().handlers.clear()  # nobody else listens
    logging.disable(logging.NOTSET)
    try:
        bench.client.force_login(User.objects.get(pk=bench.owner.pk))
        ready = bench.get("/health/ready").json()
    finally:
        logging.disable(logging.CRITICAL)
        keeper.removeHandler(ear)
    page = bench.get("/backups/").content.decode()
    warned = sum("has grown past" in line for line in heard)
    return bool(ready["log_is_large"]), WORDS in page, warned
