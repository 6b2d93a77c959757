"""Add a token, or revoke one."""

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from studio.accounts import security_log as security
from studio.accounts.models import TokenScope, User
from studio.accounts.tokens import add_token, revoke_token
from studio.errors import MeniscusError


class Command(BaseCommand):
    help = (
        "Create an API token, which lets a program act as a person. It is printed once and not stored. "
        "With --revoke, revoke the token with this beginning instead."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--user", help="The name of the person the program acts for.")
        parser.add_argument("--name", help="What the token is for.")
        parser.add_argument("--scope", choices=TokenScope.values, default=TokenScope.READ.value)
        parser.add_argument("--days", type=int, default=90, help="How long it is valid (default: 90 days).")
        parser.add_argument("--revoke", metavar="BEGINNING", help="Revoke the token with this beginning.")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            if options["revoke"]:
                self._revoke(options["revoke"])
            else:
                self._add(options)
        except MeniscusError as problem:
            raise CommandError(str(problem)) from problem

    def _add(self, options: dict[str, Any]) -> None:
        if not options["user"] or not options["name"]:
            raise CommandError("Please give the person and the purpose: --user NAME --name PURPOSE.")
        user = User.objects.filter(username=options["user"]).first()
        if user is None:
            raise CommandError(f"There is no person called “{options['user']}”.")
        token, text = add_token(
            user=user, name=options["name"], scope=options["scope"], days=options["days"], at=timezone.now()
        )
        security.event("token_added", account=user.username, token=token.prefix, scope=token.scope)
        self.stderr.write(
            f"Valid until {token.expires_at:%d %B %Y}, to {token.get_scope_display().lower()}, as {user.username}. "
            "Keep it like a password; it is not shown again. The page /api/start/ of the studio shows a first program:"
        )
        self.stdout.write(text)

    def _revoke(self, prefix: str) -> None:
        token = revoke_token(prefix=prefix, at=timezone.now())
        security.event("token_revoked", account=token.user.username, token=token.prefix)
        self.stdout.write(f"{token.name} of {token.user.username} has been revoked.")
