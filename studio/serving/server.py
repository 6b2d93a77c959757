"""The application server, run from this very process: one worker, a few threads, nothing else to install or start."""

import socket
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from http.server import ThreadingHTTPServer
from threading import Thread
from typing import Any

from django.conf import settings
from django.core.handlers.wsgi import WSGIHandler
from django.db import connections
from gunicorn.app.base import BaseApplication  # type: ignore[import-untyped]
from gunicorn.arbiter import Arbiter  # type: ignore[import-untyped]
from gunicorn.workers.gthread import ThreadWorker  # type: ignore[import-untyped]

from studio.serving.certificates import Certificates

THREADS = 4
PATIENCE = 5.0  # seconds that a connection may take to say something
MOST_ASKED = 8_192  # bytes of a request's head: what servers usually take
TLS_HANDSHAKE = b"\x16"  # the first byte of every TLS connection (RFC 8446, section 5.1)


@dataclass(frozen=True, slots=True)
class Serving:
    """What to serve at, with which certificates, what beside it, and what to say once the port is open."""

    binds: list[str]
    ready: Callable[[], None]
    certificates: Certificates | None = None
    beside: ThreadingHTTPServer | None = None


class Worker(ThreadWorker):  # type: ignore[misc]  # gunicorn has no annotations
    """gunicorn's own, which also leads a browser that speaks plain http to the port for https there."""

    def handle(self, conn: Any) -> Any:
        if self.cfg.is_ssl and not conn.initialized:
            conn.data_ready = conn.data_ready or conn.wait_for_data(PATIENCE)
            with suppress(OSError):  # gone again: gunicorn closes what is left of it
                first = conn.sock.recv(1, socket.MSG_PEEK) if conn.data_ready else b""
                if first and first != TLS_HANDSHAKE:
                    conn.sock.settimeout(PATIENCE)
                    conn.sock.sendall(answer_in_plain(_head(conn.sock)))
                    return False
        return super().handle(conn)


def _head(sent: socket.socket) -> bytes:
    """The head of a request. All of it is read: else closing would take the answer from whoever still writes."""
    head = b""
    while b"\r\n\r\n" not in head and len(head) < MOST_ASKED and (more := sent.recv(MOST_ASKED)):
        head += more
    return head


def answer_in_plain(head: bytes) -> bytes:
    """The same address by https, in answer to a request that came by http (RFC 9110, section 15.4.8)."""
    words = head.split(b"\r\n", 1)[0].split(b" ")
    path = words[1] if len(words) == 3 and words[1].startswith(b"/") and words[1].isascii() else b"/"
    location = settings.SERVED_AT.rstrip("/").encode() + path
    lines = [b"HTTP/1.1 307 Temporary Redirect", b"Location: " + location, b"Content-Length: 0"]
    return b"\r\n".join([*lines, b"Connection: close", b"", b""])


class Server(BaseApplication):  # type: ignore[misc]  # gunicorn has no annotations
    """gunicorn told everything by its maker: no configuration files, no command line."""

    def __init__(self, serving: Serving) -> None:
        self.serving = serving
        super().__init__()

    def load_config(self) -> None:
        def when_ready(server: Arbiter) -> None:
            self.serving.ready()

        def post_worker_init(worker: Any) -> None:
            if self.serving.beside:  # in the worker: a process with a second thread is not to be forked
                Thread(target=self.serving.beside.serve_forever, daemon=True).start()

        wanted: dict[str, Any] = {
            "bind": self.serving.binds,
            "workers": 1,
            "worker_class": Worker,
            "threads": THREADS,
            "loglevel": "warning",
            "proc_name": "meniscus",
            "control_socket_disable": True,
            "when_ready": when_ready,
            "post_worker_init": post_worker_init,
        }
        if self.serving.certificates:
            wanted["certfile"] = str(self.serving.certificates.certificate)
            wanted["keyfile"] = str(self.serving.certificates.key)
        for name, value in wanted.items():
            self.cfg.set(name, value)

    def load(self) -> WSGIHandler:
        from studio.wsgi import application

        return application


def run(serving: Serving) -> None:
    """Serve until interrupted or told to end, then exit with 0."""
    connections.close_all()  # the worker is a copy of this process, and two must not share a connection
    Server(serving).run()
