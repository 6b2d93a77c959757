"""A web server as a studio runs one, on a database of the test's own, and the plainest of clients for it."""

import http.client
import os
import socket
import subprocess
import sys
import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import NamedTuple

from django.conf import settings

from tests.faults.real_databases import RealDatabase

PATIENCE = 300  # seconds for a server to come up, or to answer again after a kill, on however busy a machine


class Answer(NamedTuple):
    status: int
    text: str


@contextmanager
def web_server(
    database: RealDatabase, *, threads: int = 2, log: int = subprocess.DEVNULL, **more: str
) -> Iterator[tuple[int, int]]:
    """A web server with two workers on the database: its process number and port. `more` is for its environment."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port: int = free.getsockname()[1]
    words = ["--bind", f"127.0.0.1:{port}", "--workers", "2", "--threads", str(threads)]
    command = [sys.executable, "-m", "gunicorn", "studio.wsgi", "--no-control-socket", *words]
    environment = {**os.environ, "DATABASE_URL": database.url, **more}
    with subprocess.Popen(
        [*command, "--log-level", "critical"], env=environment, cwd=settings.BASE_DIR, stderr=log
    ) as process:
        try:
            _wait_for_port(port)
            yield process.pid, port
        finally:
            process.terminate()


def ask(
    port: int, path: str, body: str | bytes | None = None, headers: Mapping[str, str] | None = None
) -> Answer:
    """Ask the server once: a POST where there is a body, else a GET."""
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=PATIENCE)
    try:
        connection.request("GET" if body is None else "POST", path, body, dict(headers or {}))
        response = connection.getresponse()
        return Answer(response.status, response.read().decode())
    finally:
        connection.close()


def workers_of(server: int) -> list[int]:
    return [int(pid) for pid in Path(f"/proc/{server}/task/{server}/children").read_text().split()]


def _wait_for_port(port: int) -> None:
    until = time.monotonic() + PATIENCE
    while time.monotonic() < until:
        try:
            socket.create_connection(("127.0.0.1", port), timeout=1).close()
        except OSError:
            time.sleep(0.05)
        else:
            return
    raise AssertionError(f"The server did not come up within {PATIENCE} seconds.")
