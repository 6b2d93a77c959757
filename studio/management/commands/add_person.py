"""Add a person who can log in."""

import os
import sys
from argparse import ArgumentParser
from getpass import getpass
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from studio.accounts.actions import add_person
from studio.accounts.models import Role, User
from studio.errors import MeniscusError

FROM_ENVIRONMENT = "MENISCUS_NEW_PASSWORD"


class Command(BaseCommand):
    help = (
        "Add a person who can log in: an owner, a helper or a bookkeeper. The password is asked for, or read from "
        f"{FROM_ENVIRONMENT}; it is never given on the command line."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("username")
        parser.add_argument("--role", choices=Role.values, default=Role.HELPER.value)
        parser.add_argument("--email", default="")
        parser.add_argument(
            "--may-see-money", action="store_true", help="Lets a helper see costs and prices."
        )

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            person = User(
                username=options["username"],
                role=options["role"],
                email=options["email"],
                may_see_money=options["may_see_money"],
            )
            add_person(person, password=self._password(), submission=None)
        except MeniscusError as problem:
            raise CommandError(str(problem)) from problem
        self.stdout.write(f"{person.username} can now log in as {person.get_role_display().lower()}.")
        if not User.objects.filter(role=Role.OWNER, is_active=True).exists():
            self.stdout.write(
                "There is no owner yet, and only an owner can set up the studio: add one with --role owner."
            )

    def _password(self) -> str:
        given = os.environ.get(FROM_ENVIRONMENT)
        if given:
            return given
        if not sys.stdin.isatty():
            raise CommandError(f"No terminal to type a password in. Set {FROM_ENVIRONMENT} for this command.")
        password = getpass("Password: ")
        if getpass("Repeat the password: ") != password:
            raise CommandError("The two passwords differ. No one was added; please run the command again.")
        return password
