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
from costing.demo.passwords import give_phrases
from costing.demo.setting_up import STUDIO_NAME
from studio.serving.starting import add_arguments, place_of, restart_with_settings, serve

REFUSED = 2
BAR = 40


class Command(BaseCommand):
    help = (
        "Build the demo (a year of an invented studio's work) in an empty database and serve it. "
        "A second run only serves it. A database with your own data is refused and left unchanged."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--build-only", action="store_true", help="Build the demo without serving it.")
        add_arguments(parser)

    def handle(self, *args: Any, build_only: bool, port: int, **options: Any) -> None:
        place = None if build_only else place_of({"port": port, **options})
        if not build_only:
            restart_with_settings(place, port, MENISCUS_DEMO="1")
        try:
            self._prepare()
        except SomebodysOwn as refusal:
            raise CommandError(str(refusal), returncode=REFUSED) from None
        if build_only:
            self.stdout.write(f"{STUDIO_NAME} is ready. Run `manage.py demo` to look at it.")
            return
        serve(place, port, lines=self._welcome(on_lan=place is not None), out=sys.stdout)

    def _prepare(self) -> None:
        """Bring the tables up to date and build the demo unless it is there."""
        if not holds_demo():
            refuse_somebodys_own()
        call_command("migrate", interactive=False, verbosity=0)
        if not holds_demo():
            progress = partial(show_progress, sys.stderr)
            with quiet():
                build(today=timezone.localdate(), now=timezone.now(), progress=progress)

    def _welcome(self, *, on_lan: bool) -> list[str]:
        """Who can log in with what. On the network nobody gets in with the passwords that everybody can read here."""
        with quiet():
            phrases = give_phrases(are_secret=on_lan)
        lines = [f"This is {STUDIO_NAME}. Log in as", ""]
        lines += [f"  {username:<12}{phrase}" for username, phrase in phrases.items()]
        public = "the passwords hold until the next start" if on_lan else "the passwords are public"
        return [*lines, "", f"Everything in it is invented and {public}: do not enter your own data here."]


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
