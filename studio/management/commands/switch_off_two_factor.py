"""Switch off a person's two-factor sign-in when phone and recovery codes are lost."""

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from studio.accounts import security_log as security
from studio.accounts.models import User
from studio.accounts.two_factor import switch_off


class Command(BaseCommand):
    help = (
        "Switch off a person's two-factor sign-in when phone and recovery codes are lost. Afterwards the password "
        "alone is enough. Make sure that the request really comes from this person."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("username")

    def handle(self, *args: Any, **options: Any) -> None:
        person = User.objects.filter(username=options["username"]).first()
        if person is None:
            raise CommandError(f"There is no person called “{options['username']}”.")
        if not switch_off(user=person):
            raise CommandError(f"{person.username} does not use two-factor sign-in.")
        security.event("codes_dropped", account=person.username)
        self.stdout.write(
            f"{person.username} now logs in with the password alone. If someone may have found the phone, set a new "
            "password: that ends every session. A new phone can be added on the page Two-factor sign-in."
        )
