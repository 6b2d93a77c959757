"""PostgreSQL servers of one's own, to be stopped as a power cut would stop them: one alone, or one with a standby."""

import os
import pwd
import shutil
import signal
import subprocess
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from urllib.parse import quote

ACCOUNT = "postgres"  # the server refuses to run as root
PATIENCE = 60  # seconds for a standby to follow


def programs() -> Path | None:
    """Where PostgreSQL's own programs are, if they are installed: the newest version's."""
    found = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"), key=lambda path: int(path.parts[-3]))
    on_path = shutil.which("initdb")
    return found[-1].parent if found else Path(on_path).parent if on_path else None


@dataclass(frozen=True)
class PrivateCluster:
    """A server that listens on a socket in its own folder only."""

    programs: Path
    folder: Path

    @property
    def host(self) -> str:
        return quote(str(self.folder), safe="")

    @property
    def url(self) -> str:
        return f"postgres://{ACCOUNT}@{self.host}/postgres"

    @property
    def data(self) -> Path:
        return self.folder / "data"

    def start(self, **settings: str) -> None:
        given = [f"-c {name}={value}" for name, value in settings.items()]
        options = " ".join([f"-k {self.folder}", "-c listen_addresses=''", *given])
        self._run("pg_ctl", "-D", f"{self.data}", "-l", f"{self.folder}/log", "-w", "-o", options, "start")

    def stop(self, mode: str) -> None:
        """Stop the server: "fast" in good order, "immediate" without writing anything more."""
        self._run("pg_ctl", "-D", f"{self.data}", "-w", "-m", mode, "stop")

    def put_away(self) -> None:
        """Stop the server for good, if it has not stopped by itself."""
        with suppress(subprocess.CalledProcessError):
            self.stop("immediate")

    def kill(self) -> None:
        """`kill -9` of the server and all of its processes, as when its machine is gone."""
        server = int((self.data / "postmaster.pid").read_text().split()[0])
        children = Path(f"/proc/{server}/task/{server}/children").read_text().split()
        for pid in (server, *map(int, children)):
            os.kill(pid, signal.SIGKILL)
        while Path(f"/proc/{server}").exists():
            time.sleep(0.01)

    def create(self) -> None:
        words = ("-A", "trust", "-U", ACCOUNT, "-E", "UTF8", "--locale=C.UTF-8")
        self._run("initdb", "-D", f"{self.data}", *words)

    def follow(self, primary: "PrivateCluster") -> None:
        """Become a standby of another server, from a copy of it that is made anew."""
        shutil.rmtree(self.data, ignore_errors=True)
        words = ("-R", "-X", "stream", "-c", "fast", "-h", f"{primary.folder}", "-U", ACCOUNT)
        self._run("pg_basebackup", "-D", f"{self.data}", *words)
        self.start()

    def promote(self) -> None:
        self._run("pg_ctl", "-D", f"{self.data}", "-w", "promote")

    def tell(self, statement: str) -> list[tuple[Any, ...]]:
        """Have the server carry out one statement, outside any transaction; its rows, if it has any."""
        import psycopg

        with psycopg.connect(self.url, autocommit=True) as connection:
            done = connection.execute(statement.encode())
            return done.fetchall() if done.description else []

    def _run(self, program: str, *words: str) -> None:
        as_account = ["runuser", "-u", ACCOUNT, "--"] if os.getuid() == 0 else []
        command = [*as_account, str(self.programs / program), *words]
        subprocess.run(command, check=True, stdout=subprocess.DEVNULL, cwd=self.folder)


@dataclass
class Pair:
    """A server, and a standby that has every commit before it is acknowledged."""

    primary: PrivateCluster
    standby: PrivateCluster

    @property
    def url(self) -> str:
        """The address of whichever of the two takes writes, whoever that is by then."""
        both = ",".join(sorted((self.primary.host, self.standby.host)))
        return f"postgres://{ACCOUNT}@{both}/postgres?target_session_attrs=read-write"

    def keep_together(self) -> None:
        """Make the standby anew, and wait for it at every commit from then on.

        The setting comes after the copy, which would take it along: promoted, it would wait for a standby of its own.
        """
        self.standby.follow(self.primary)
        self.primary.tell("ALTER SYSTEM SET synchronous_standby_names = '*'")
        self.primary.tell("SELECT pg_reload_conf()")
        until = time.monotonic() + PATIENCE
        while self.primary.tell("SELECT sync_state FROM pg_stat_replication") != [("sync",)]:
            assert time.monotonic() < until, "The standby does not follow."
            time.sleep(0.05)

    def take_over(self) -> None:
        """The standby is the primary from now on; the old one is gone."""
        self.standby.promote()
        self.primary, self.standby = self.standby, self.primary


@contextmanager
def private_cluster() -> Iterator[PrivateCluster | None]:
    """A fresh server for as long as it is needed, removed afterwards; nothing where PostgreSQL is not installed."""
    where = programs()
    if where is None:
        yield None
        return
    with _own_folder() as folder:
        cluster = PrivateCluster(where, folder)
        cluster.create()
        cluster.start()
        try:
            yield cluster
        finally:
            cluster.put_away()


@contextmanager
def private_pair() -> Iterator[Pair | None]:
    """A fresh server with a standby; nothing where PostgreSQL is not installed."""
    with private_cluster() as primary:
        if primary is None:
            yield None
            return
        with _own_folder() as folder:
            pair = Pair(primary, PrivateCluster(primary.programs, folder))
            pair.keep_together()
            try:
                yield pair
            finally:
                for cluster in (pair.primary, pair.standby):
                    if cluster is not primary:
                        cluster.put_away()


@contextmanager
def _own_folder() -> Iterator[Path]:
    with tempfile.TemporaryDirectory(prefix="pg", ignore_cleanup_errors=True) as name:
        if os.getuid() == 0:
            account = pwd.getpwnam(ACCOUNT)
            os.chown(name, account.pw_uid, account.pw_gid)
        yield Path(name)
