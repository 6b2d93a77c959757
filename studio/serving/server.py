"""The application server, run from this very process: one worker, a few threads, nothing else to install or start."""

from collections.abc import Callable
from dataclasses import dataclass
from http.server import ThreadingHTTPServer
from threading import Thread
from typing import Any

from django.core.handlers.wsgi import WSGIHandler
from django.db import connections
from gunicorn.app.base import BaseApplication  # type: ignore[import-untyped]
from gunicorn.arbiter import Arbiter  # type: ignore[import-untyped]

from studio.serving.certificates import Certificates

THREADS = 4


@dataclass(frozen=True, slots=True)
class Serving:
    """What to serve at, with which certificates, what beside it, and what to say once the port is open."""

    binds: list[str]
    ready: Callable[[], None]
    certificates: Certificates | None = None
    beside: ThreadingHTTPServer | None = None


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
            "worker_class": "gthread",
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
