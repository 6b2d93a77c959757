"""Serves the demo from this very process: one worker, a few threads, nothing else to install or start."""

from collections.abc import Callable
from pathlib import Path

from django.conf import settings
from django.core.handlers.wsgi import WSGIHandler
from django.db import connections
from gunicorn.app.base import BaseApplication  # type: ignore[import-untyped]
from gunicorn.arbiter import Arbiter  # type: ignore[import-untyped]

THREADS = 4


class DemoServer(BaseApplication):  # type: ignore[misc]  # gunicorn has no annotations
    """gunicorn told everything by its maker: no configuration files, no command line."""

    def __init__(self, host: str, port: int, ready: Callable[[], None]) -> None:
        self.bind, self.ready = f"[{host}]:{port}" if ":" in host else f"{host}:{port}", ready
        super().__init__()

    def load_config(self) -> None:
        def when_ready(server: Arbiter) -> None:
            self.ready()

        wanted = {
            "bind": self.bind,
            "workers": 1,
            "worker_class": "gthread",
            "threads": THREADS,
            "loglevel": "warning",
            "proc_name": "meniscus demo",
            "control_socket_disable": True,
            "when_ready": when_ready,
        }
        for name, value in wanted.items():
            self.cfg.set(name, value)

    def load(self) -> WSGIHandler:
        from studio.wsgi import application

        return application


def serve(*, host: str, port: int, ready: Callable[[], None]) -> None:
    """Serve until interrupted or told to end, then exit with 0. `ready` is called once the port is open."""
    Path(settings.STATIC_ROOT).mkdir(
        parents=True, exist_ok=True
    )  # WhiteNoise warns of a folder that is not there
    connections.close_all()  # the worker is a copy of this process, and two must not share a connection
    DemoServer(host, port, ready).run()
