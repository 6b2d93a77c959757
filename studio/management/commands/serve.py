"""`manage.py serve`: your own studio, on this machine or on the home network."""

import sys
from argparse import ArgumentParser
from typing import Any

from django.core.exceptions import ImproperlyConfigured
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError

from studio.accounts.first_owner import make_code
from studio.accounts.models import User
from studio.operations.checks import refuse_unsafe_books
from studio.serving.starting import add_arguments, place_of, restart_with_settings, serve


class Command(BaseCommand):
    help = (
        "Serve your studio in the browser: on this computer alone, or with --lan on the home network too. "
        "Brings the database up to date first."
    )

    # They load every page, and this starts twice; what would endanger the books is asked below.
    requires_system_checks = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        add_arguments(parser)
        parser.add_argument("at", nargs="?", type=int, metavar="PORT", help="The same as --port.")

    def handle(self, *args: Any, port: int, at: int | None = None, **options: Any) -> None:
        port = at or port
        place = place_of({"port": port, **options})
        restart_with_settings(place, port)
        self.stdout.write("Bringing the database up to date …")
        self.stdout.flush()
        call_command("migrate", interactive=False, verbosity=0)
        try:
            refuse_unsafe_books()
        except ImproperlyConfigured as problem:
            raise CommandError(str(problem)) from None
        serve(place, port, lines=self._first_lines(on_lan=place is not None), out=sys.stdout)

    def _first_lines(self, *, on_lan: bool) -> list[str]:
        """What to do first where nobody can log in yet. On the network it takes a code from this very terminal."""
        if User.objects.exists():
            return []
        if not on_lan:
            return ["Open it to set up your studio."]
        return [
            f"Nobody can log in yet. Open it and set up your studio with this one-time code: {make_code()}"
        ]
