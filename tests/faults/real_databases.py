"""Real databases that last as long as a test, and worker processes that write to them.

An SQLite database is a file in a temporary folder. Where DATABASE_URL names PostgreSQL, the database is a new
one on that server. Workers are forked from one quiet process that has Django loaded and no connection open.
"""

import itertools
import logging
import os
import shutil
import traceback
import warnings
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from functools import partial
from multiprocessing import get_context
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit, urlunsplit

from django.db import connections

from studio.settings import database
from tests.faults import jobs

crew = get_context("forkserver")
crew.set_forkserver_preload(["tests.faults.disk_jobs"])
numbers = itertools.count(1)

Job = Callable[..., Any]


class WorkerFailed(AssertionError):
    """Raised when a job in another process ended in an error; the text is that process's traceback."""


class WorkerDied(WorkerFailed):
    """Raised when a process ended without a word, as one does that is killed."""


@dataclass(frozen=True)
class RealDatabase:
    """One database, and the processes that work on it."""

    url: str

    @property
    def is_sqlite(self) -> bool:
        return self.url.startswith("sqlite")

    @property
    def file(self) -> Path:
        return Path(self.url.removeprefix("sqlite:///"))

    def do(self, job: Job, **facts: Any) -> Any:
        """Run one job in a process of its own and return its answer."""
        return self.together(job, [facts])[0]

    def together(self, job: Job, each: Sequence[Mapping[str, Any]]) -> list[Any]:
        """Run a job once for each set of facts, every one in a process of its own, and return their answers.

        Each job is handed `meet`, which waits until all of them have come that far.
        """
        barrier = crew.Barrier(len(each))
        workers = [self.start(job, meet=barrier.wait, **facts) for facts in each]
        return [worker.answer() for worker in workers]

    def start(self, job: Job, **facts: Any) -> "Worker":
        """Start a job and leave it running."""
        ours, theirs = crew.Pipe()
        process = crew.Process(target=_work, args=(self.url, job, facts, theirs), daemon=True)
        process.start()
        theirs.close()
        return Worker(process, ours)


@dataclass
class Worker:
    """A job at work in another process. What it says through its pipe counts as said, even if it dies then."""

    process: Any
    pipe: Connection
    said: list[Any] = field(default_factory=list)

    def answer(self) -> Any:
        """Wait for the end of the job. Raises WorkerFailed with its traceback when it ended in an error."""
        try:
            while (word := self.pipe.recv())[0] == "says":
                self.said.append(word[1])
        except EOFError:
            self._end()
            raise WorkerDied("The worker died without an answer.") from None
        self._end()
        if word[0] == "failed":
            raise WorkerFailed(word[1])
        return word[1]

    def hear(self, seconds: float = 300) -> Any:
        """Wait for the next thing that the job says. Raises WorkerFailed when it ends in an error or stays silent."""
        if not self.pipe.poll(seconds):
            raise WorkerFailed(f"The worker said nothing for {seconds} seconds.")
        kind, word = self.pipe.recv()
        if kind == "failed":
            raise WorkerFailed(word)
        self.said.append(word)
        return word

    def heard_so_far(self) -> list[Any]:
        """All that the job has said by now."""
        while self.pipe.poll():
            self.hear()
        return list(self.said)

    def kill(self) -> list[Any]:
        """Kill the process as `kill -9` does, and return all that it had said."""
        self.process.kill()
        with suppress(EOFError, ConnectionResetError):
            while self.pipe.poll(5):
                word = self.pipe.recv()
                if word[0] == "failed":
                    raise WorkerFailed(word[1])
                self.said.append(word[1])
        self._end()
        return self.said

    def _end(self) -> None:
        self.process.join()
        self.process.close()
        self.pipe.close()


def use(url: str) -> None:
    """Point this process at a database, with the settings a studio would have there."""
    os.environ["DATABASE_URL"] = url
    connections.databases.update(connections.configure_settings({"default": database()}))
    with suppress(AttributeError):  # a wrapper that was made, though never connected, before this
        del connections["default"]


def _work(url: str, job: Job, facts: dict[str, Any], pipe: Connection) -> None:
    logging.disable(logging.WARNING)  # who signed in or was added is nobody's news here
    warnings.filterwarnings("ignore", message="No directory at")  # of static files
    use(url)
    try:
        answer = job(say=partial(_say, pipe), **{"meet": _nobody_to_meet, **facts})
    except Exception:
        pipe.send(("failed", traceback.format_exc()))
    else:
        pipe.send(("answers", answer))
    finally:
        connections.close_all()


def _say(pipe: Connection, word: Any) -> None:
    pipe.send(("says", word))


def _nobody_to_meet() -> None:
    """A job that runs alone waits for nobody."""


@dataclass(frozen=True)
class Maker:
    """Makes databases from one migrated pattern, each fresh."""

    pattern: RealDatabase
    server: str = ""

    @contextmanager
    def fresh(self) -> Iterator[RealDatabase]:
        address, mark, options = self.pattern.url.partition("?")
        made = RealDatabase(f"{address}_{next(numbers)}{mark}{options}")
        if made.is_sqlite:
            shutil.copy(self.pattern.file, made.file)
            yield made
            for file in made.file.parent.glob(f"{made.file.name}*"):
                file.unlink()
            for folder in made.file.parent.glob("before-restore-*"):
                shutil.rmtree(folder)
            return
        _tell(self.server, f'CREATE DATABASE "{_name(made.url)}" TEMPLATE "{_name(self.pattern.url)}"')
        try:
            yield made
        finally:
            _tell(self.server, f'DROP DATABASE "{_name(made.url)}" WITH (FORCE)')
            for kept in _kept_by_restores(self.server):
                _tell(self.server, f'DROP DATABASE "{kept}"')


@contextmanager
def maker(folder: Path, server: str = "") -> Iterator[Maker]:
    """A maker of databases: SQLite files in a folder, or databases on the PostgreSQL server that a URL names."""
    if not server.startswith("postgres"):
        made = Maker(RealDatabase(f"sqlite:///{folder / 'pattern.sqlite3'}"))
        made.pattern.do(jobs.migrate)
        yield made
        return
    name = f"{_begins()}{next(numbers)}"
    made = Maker(RealDatabase(urlunsplit(urlsplit(server)._replace(path=f"/{name}"))), server)
    _tell(server, f'CREATE DATABASE "{name}"')
    try:
        made.pattern.do(jobs.migrate)
        yield made
    finally:
        _tell(server, f'DROP DATABASE "{name}" WITH (FORCE)')


def _begins() -> str:
    return f"meniscus_faults_{os.getpid()}_"


def _kept_by_restores(server: str) -> list[str]:
    """The databases that this process's restores have put aside."""
    import psycopg

    address = urlunsplit(urlsplit(server)._replace(path="/postgres"))
    with psycopg.connect(address) as connection:
        rows = connection.execute(
            "SELECT datname FROM pg_database "
            "WHERE starts_with(datname, %s) AND position('_before_restore_' IN datname) > 0",
            [_begins()],
        )
        return [str(name) for (name,) in rows.fetchall()]


def _name(url: str) -> str:
    return urlsplit(url).path.lstrip("/")


def _tell(server: str, statement: str) -> None:
    """Have the server make or drop a database, from the one database that every server has."""
    import psycopg

    address = urlunsplit(urlsplit(server)._replace(path="/postgres"))
    with psycopg.connect(address, autocommit=True) as connection:
        connection.execute(statement.encode())
