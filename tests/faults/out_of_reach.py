"""The database is full, or away: what pages say then, what becomes of what was typed, and that it all goes on."""

import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from http import HTTPStatus
from urllib.parse import urlencode, urlsplit, urlunsplit

from tests.days import TODAY
from tests.faults import jobs, page_jobs
from tests.faults.jobs import Scene
from tests.faults.page_jobs import Door, Typed
from tests.faults.private_cluster import PrivateCluster
from tests.faults.real_databases import RealDatabase, crew
from tests.faults.web_server import Answer, ask, web_server


@dataclass
class Outages:
    """What a round of outages came to."""

    outages: int = 0
    pages_that_said_so: int = 0
    posted_later: int = 0
    lost: int = 0


def forms_on_a_full_disk(database: RealDatabase, *, failures: int, seed: int) -> Outages:
    """Forms are sent to a database without room: 507, nothing posted, entries kept; with room they are taken."""
    scene: Scene = database.do(jobs.stock_shelf, paint_in_lots=[jobs.PLENTY])
    statuses = database.do(page_jobs.send_forms_to_a_full_disk, scene=scene, failures=failures, seed=seed)
    assert statuses == [HTTPStatus.INSUFFICIENT_STORAGE] * failures
    books = database.do(jobs.look_through)
    turns = books["kinds"]["write_off"] + books["kinds"].get("decant", 0)
    assert sorted(books["keys"]) == [f"{turn:032x}" for turn in range(turns)]
    return Outages(failures, len(statuses), failures, 0)


def database_goes_away(database: RealDatabase, *, rounds: int) -> Outages:
    """The database is taken away and given back under a service that runs on: an unreadable file, a silent server."""
    scene: Scene = database.do(jobs.stock_shelf, paint_in_lots=[jobs.PLENTY])
    ways = [_without_its_file, _with_another_file] if database.is_sqlite else [_closed_to_everybody]
    barrier = crew.Barrier(2)
    worker = database.start(page_jobs.look_while_out_of_reach, scene=scene, rounds=rounds, meet=barrier.wait)
    for turn in range(rounds):
        worker.hear()
        with ways[turn % len(ways)](database):
            barrier.wait()
            worker.hear()
        barrier.wait()
    statuses = worker.answer()
    assert set(statuses) == {HTTPStatus.SERVICE_UNAVAILABLE}
    books = database.do(jobs.look_through)
    assert len(books["keys"]) == rounds
    return Outages(rounds, len(statuses), rounds, 0)


def server_goes_away(cluster: PrivateCluster, database: RealDatabase, *, rounds: int) -> Outages:
    """PostgreSQL is stopped under a web server and started again: 503 meanwhile, and then on, without a restart."""
    scene: Scene = database.do(jobs.stock_shelf, paint_in_lots=[jobs.PLENTY])
    door: Door = database.do(page_jobs.open_the_door, scene=scene)
    outages, path = Outages(), f"/lots/{scene.lots[-1]}/write-off/"
    with tempfile.TemporaryFile() as log:
        with web_server(database, log=log.fileno()) as (_server, port):

            def send(fields: dict[str, str]) -> Answer:
                headers = {**door.browser, "Content-Type": "application/x-www-form-urlencoded"}
                return ask(port, path, urlencode(fields), headers)

            for turn in range(rounds):
                fields = {"quantity": "0.007 mL", "on": str(TODAY), "reason": str(scene.reason)}
                fields |= {"key": f"{turn:032x}", "note": "it's gone"}
                cluster.stop("immediate")
                answers = [ask(port, "/stock/", headers=door.browser), send(fields)]
                assert [answer.status for answer in answers] == [HTTPStatus.SERVICE_UNAVAILABLE] * 2
                cluster.start()
                assert Typed(answers[1].text).fields == fields
                assert send(fields).status == HTTPStatus.FOUND
                outages = Outages(turn + 1, outages.pages_that_said_so + 2, turn + 1, 0)
        log.seek(0)
        assert b"Traceback" not in log.read()
    books = database.do(jobs.look_through)
    assert len(books["keys"]) == rounds
    return outages


@contextmanager
def _without_its_file(database: RealDatabase) -> Iterator[None]:
    aside = database.file.with_suffix(".aside")
    database.file.rename(aside)
    try:
        yield
        assert not database.file.exists(), "an empty file was made in its place"
    finally:
        aside.rename(database.file)


@contextmanager
def _with_another_file(database: RealDatabase) -> Iterator[None]:
    """A file of the same name that is no database."""
    with _without_its_file(database):
        database.file.write_bytes(b"this is not a database file " * 1_000)
        try:
            yield
        finally:
            for file in database.file.parent.glob(f"{database.file.name}*"):
                if file.suffix != ".lock":
                    file.unlink()


@contextmanager
def _closed_to_everybody(database: RealDatabase) -> Iterator[None]:
    """The server ends every connection to this database, and takes no new one."""
    import psycopg

    parts = urlsplit(database.url)
    name = parts.path.lstrip("/")
    address = urlunsplit(parts._replace(path="/postgres"))
    with psycopg.connect(address, autocommit=True) as connection:
        connection.execute(f'ALTER DATABASE "{name}" ALLOW_CONNECTIONS false'.encode())
        connection.execute(
            "SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE datname = %s", [name]
        )
        try:
            yield
        finally:
            connection.execute(f'ALTER DATABASE "{name}" ALLOW_CONNECTIONS true'.encode())
