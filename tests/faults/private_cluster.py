"""A PostgreSQL server of one's own, to be stopped as a power cut would stop it."""

import os
import pwd
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import quote

ACCOUNT = "postgres"  # the server refuses to run as root


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
    def url(self) -> str:
        return f"postgres://{ACCOUNT}@{quote(str(self.folder), safe='')}/postgres"

    def start(self, **settings: str) -> None:
        given = [f"-c {name}={value}" for name, value in settings.items()]
        options = " ".join([f"-k {self.folder}", "-c listen_addresses=''", *given])
        self._run(
            "pg_ctl", "-D", f"{self.folder}/data", "-l", f"{self.folder}/log", "-w", "-o", options, "start"
        )

    def stop(self, mode: str) -> None:
        """Stop the server: "fast" in good order, "immediate" without writing anything more."""
        self._run("pg_ctl", "-D", f"{self.folder}/data", "-w", "-m", mode, "stop")

    def create(self) -> None:
        self._run(
            "initdb",
            "-D",
            f"{self.folder}/data",
            "-A",
            "trust",
            "-U",
            ACCOUNT,
            "-E",
            "UTF8",
            "--locale=C.UTF-8",
        )

    def _run(self, program: str, *words: str) -> None:
        as_account = ["runuser", "-u", ACCOUNT, "--"] if os.getuid() == 0 else []
        command = [*as_account, str(self.programs / program), *words]
        subprocess.run(command, check=True, stdout=subprocess.DEVNULL, cwd=self.folder)


@contextmanager
def private_cluster() -> Iterator[PrivateCluster | None]:
    """A fresh server for as long as it is needed, removed afterwards; nothing where PostgreSQL is not installed."""
    where = programs()
    if where is None:
        yield None
        return
    with tempfile.TemporaryDirectory(prefix="pg", ignore_cleanup_errors=True) as name:
        if os.getuid() == 0:
            account = pwd.getpwnam(ACCOUNT)
            os.chown(name, account.pw_uid, account.pw_gid)
        cluster = PrivateCluster(where, Path(name))
        cluster.create()
        cluster.start()
        try:
            yield cluster
        finally:
            cluster.stop("immediate")
