"""`manage.py demo`: the invented Wrackline Studio, built once and served."""

import logging
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from functools import partial
from typing import Any, TextIO

from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from costing.demo.build import SomebodysOwn, build, holds_demo, refuse_somebodys_own
from costing.demo.serving import serve
from costing.demo.setting_up import PEOPLE, STUDIO_NAME

REFUSED = 2
BAR = 40


class Command(BaseCommand):
    help = (
        "Build the demo (a year of an invented studio's work) in an empty database and serve it. "
        "A second run only serves it. A database with your own data is refused and left unchanged."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--build-only", action="store_true", help="Build the demo without serving it.")
        parser.add_argument("--port", type=int, default=8000, help="Port to serve on.")
        parser.add_argument(
            "--host",
            default="127.0.0.1",
            help="Address to serve on; 0.0.0.0 for other computers too (then name this one in MENISCUS_HOSTS).",
        )

    def handle(self, *args: Any, build_only: bool, port: int, host: str, **options: Any) -> None:
        try:
            self._prepare()
        except SomebodysOwn as refusal:
            raise CommandError(str(refusal), returncode=REFUSED) from None
        if build_only:
            self.stdout.write(f"{STUDIO_NAME} is ready. Run `manage.py demo` to look at it.")
            return
        serve(host=host, port=port, ready=lambda: self._welcome(host, port))

    def _prepare(self) -> None:
        """Bring the tables up to date and build the demo unless it is there."""
        if not holds_demo():
            refuse_somebodys_own()
        call_command("migrate", interactive=False, verbosity=0)
        if not holds_demo():
            progress = partial(show_progress, sys.stderr)
            with quiet():
                build(today=timezone.localdate(), now=timezone.now(), progress=progress)

    def _welcome(self, host: str, port: int) -> None:
        lines = [f"{STUDIO_NAME} is open at http://{host}:{port}/ (stop with Ctrl-C). Log in as", ""]
        lines += [f"  {person.username:<12}{person.phrase}" for person in PEOPLE]
        lines += [
            "",
            "Everything in it is invented and the passwords are public: do not enter your own data here.",
        ]
        self.stdout.write("\n".join(lines))
        self.stdout.flush()


@contextmanager
def quiet() -> Iterator[None]:
    """Keep the log to errors: that three invented people were added is no news for the terminal."""
    before = logging.root.manager.disable
    logging.disable(logging.WARNING)
    try:
        yield
    finally:
        logging.disable(before)


def show_progress(stream: TextIO, percent: int) -> None:
    """A line that fills on a terminal, and nothing at all elsewhere."""
    if stream.isatty():
        full = BAR * percent // 100
        end = "\n" if percent == 100 else ""
        stream.write(f"\rBuilding the demo {'█' * full}{'░' * (BAR - full)} {percent:3}%{end}")
        stream.flush()
