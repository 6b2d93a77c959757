"""`manage.py serve` as a process of its own, and the plainest of browsers for it."""

import http.client
import os
import re
import signal
import socket
import ssl
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from http.cookies import SimpleCookie
from pathlib import Path
from urllib.parse import urlencode

from django.conf import settings

HOME = "127.0.0.2"  # stands for the private address of a machine at home: another one of this machine's own
PATIENCE = 300


def free_ports() -> int:
    """A port that is free, and the one after it."""
    while True:
        with socket.socket() as first, socket.socket() as second:
            first.bind((HOME, 0))
            port: int = first.getsockname()[1]
            try:
                second.bind((HOME, port + 1))
            except (OSError, OverflowError):
                continue
            return port


@contextmanager
def served(folder: Path, *words: str) -> Iterator[str]:
    """The service on an SQLite file in this folder, until the test is done; what its terminal says."""
    usual = {
        name: value
        for name, value in os.environ.items()
        if not name.startswith(("MENISCUS_", "DJANGO_", "DATABASE_URL"))
    }
    process = subprocess.Popen(
        [sys.executable, "manage.py", "serve", *words],
        cwd=settings.BASE_DIR,
        env={**usual, "MENISCUS_DATA": str(folder), "PYTHONUNBUFFERED": "1"},
        stdout=subprocess.PIPE,
        text=True,
    )
    try:
        assert process.stdout is not None
        said = ""
        for line in process.stdout:
            said += line
            if line.startswith("Stop with"):
                break
        yield said
        process.send_signal(signal.SIGTERM)
        assert process.wait(timeout=PATIENCE) == 0
    finally:
        process.kill()
        process.communicate()


@dataclass(slots=True)
class Browser:
    """Keeps cookies and sends forms; trusts the root that it is given, as a phone does."""

    port: int
    root: Path | None = None
    cookies: SimpleCookie = field(default_factory=SimpleCookie)
    seen: dict[str, str] = field(default_factory=dict)

    def ask(self, path: str, form: dict[str, str] | None = None, **headers: str) -> tuple[int, bytes]:
        connection = self._connection()
        sent = {
            "Host": f"{HOME}:{self.port}",
            "Cookie": "; ".join(f"{name}={each.value}" for name, each in self.cookies.items()),
            **{name.replace("_", "-"): value for name, value in headers.items()},
        }
        body = None
        if form is not None:
            scheme = "https" if self.root else "http"
            sent |= {
                "Content-Type": "application/x-www-form-urlencoded",
                "Origin": f"{scheme}://{HOME}:{self.port}",
            }
            body = urlencode(form)
        try:
            connection.request("GET" if form is None else "POST", path, body, sent)
            answer = connection.getresponse()
            content = answer.read()
        finally:
            connection.close()
        for header in answer.headers.get_all("Set-Cookie") or []:
            self.cookies.load(header)
        self.seen = {name.lower(): value for name, value in answer.headers.items()}
        return answer.status, content

    def token(self, page: bytes) -> str:
        """The token of the form on a page."""
        found = re.search(rb'name="csrfmiddlewaretoken" value="(\w+)"', page)
        assert found is not None, page
        return found[1].decode()

    def _connection(self) -> http.client.HTTPConnection:
        if self.root is None:
            return http.client.HTTPConnection(HOME, self.port, timeout=PATIENCE)
        trust = ssl.create_default_context(cafile=str(self.root))
        return http.client.HTTPSConnection(HOME, self.port, timeout=PATIENCE, context=trust)
