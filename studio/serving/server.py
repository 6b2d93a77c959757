"""The application server, run from this very process: one worker, a few threads, nothing else to install or start."""

import os
import selectors
import socket
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from functools import partial
from http.server import ThreadingHTTPServer
from threading import Thread
from time import monotonic
from typing import Any

from django.conf import settings
from django.core.handlers.wsgi import WSGIHandler
from django.db import connections
from gunicorn.app.base import BaseApplication  # type: ignore[import-untyped]
from gunicorn.arbiter import Arbiter  # type: ignore[import-untyped]
from gunicorn.util import close_graceful  # type: ignore[import-untyped]
from gunicorn.workers.gthread import ThreadWorker  # type: ignore[import-untyped]

from studio.serving.certificates import Certificates

THREADS = 8
PATIENCE = 5.0  # seconds that a connection may take to say something
HEAD_SECONDS, WHOLE_SECONDS = 10.0, 180.0  # what reading a request's head, and all of it, may take
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
    """gunicorn's own, which also leads a browser that speaks plain http to the port for https there.

    gunicorn leaves it to a proxy to keep slow senders from its threads. At home there is none, and a phone that walks
    out of the Wi-Fi while it sends would hold one for good. So a connection gets a thread once it has said something,
    and is cut off from reading when its time is over. What is being answered then is still answered.
    """

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.read_until: dict[Any, float] = {}

    def enqueue_req(self, conn: Any) -> None:
        if conn.initialized or conn.data_ready:
            super().enqueue_req(conn)
            return
        conn.sock.setblocking(False)
        conn.timeout = monotonic() + PATIENCE
        self.pending_conns.append(conn)
        readable = partial(self.on_pending_socket_readable, conn)
        self.poller.register(conn.sock, selectors.EVENT_READ, readable)

    def handle(self, conn: Any) -> Any:
        self.read_until[conn] = monotonic() + HEAD_SECONDS
        try:
            stays = False if self._led_to_https(conn) else super().handle(conn)
        finally:
            self.read_until.pop(conn, None)
        if not stays:
            _await_the_end(conn.sock)
        return stays

    def handle_request(self, req: Any, conn: Any) -> Any:
        self.read_until[conn] = monotonic() + WHOLE_SECONDS
        return super().handle_request(req, conn)

    def murder_pending(self) -> None:  # the main loop asks every second
        super().murder_pending()
        now = monotonic()
        for conn in [conn for conn, until in list(self.read_until.items()) if until < now]:
            with suppress(OSError):  # gone already
                socket.socket.shutdown(conn.sock, socket.SHUT_RD)  # a TLS socket's own would end writing too

    def _led_to_https(self, conn: Any) -> bool:
        """Whether this was a request by plain http to the port for https; it is answered, and the connection ends."""
        if not self.cfg.is_ssl or conn.initialized:
            return False
        conn.sock.setblocking(True)
        with suppress(OSError):  # gone again: gunicorn closes what is left of it
            first = conn.sock.recv(1, socket.MSG_PEEK)
            if first and first != TLS_HANDSHAKE:
                conn.sock.settimeout(PATIENCE)
                conn.sock.sendall(answer_in_plain(_head(conn.sock)))
                return True
        return False


def _await_the_end(answered: socket.socket) -> None:
    """Give the other side two seconds to close. gunicorn does that where everybody else has to wait."""
    with suppress(OSError):  # gone already
        close_graceful(socket.socket(fileno=os.dup(answered.fileno())))
        socket.socket.shutdown(answered, socket.SHUT_RD)


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
