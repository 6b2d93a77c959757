"""Switch a person's sign-in codes off, for when the phone and the recovery codes are lost."""

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from studio.accounts import security_log as security
from studio.accounts.models import User
from studio.accounts.two_factor import switch_off


class Command(BaseCommand):
    help = (
        "Switch a person's sign-in codes off, when the phone and the recovery codes are lost. Afterwards the password "
        "alone is enough. Make sure that it is this person who asks."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("username")

    def handle(self, *args: Any, **options: Any) -> None:
        person = User.objects.filter(username=options["username"]).first()
        if person is None:
            raise CommandError(f"Nobody here is called “{options['username']}”.")
        if not switch_off(user=person):
            raise CommandError(f"{person.username} has no sign-in codes on.")
        security.event("codes_dropped", account=person.username)
        self.stdout.write(
            f"{person.username} signs in with the password alone now. If somebody may have found the phone, set a new "
            "password: that ends every session. Another phone is taken up on the page Sign-in codes."
        )
