"""Prints a token for the owner, for a bookkeeper and for a helper of a studio, one a line."""

import django

django.setup()

from django.utils import timezone  # noqa: E402

from studio.accounts.models import Role, TokenScope, User  # noqa: E402
from studio.accounts.tokens import add_token  # noqa: E402

for role in (Role.OWNER, Role.BOOKKEEPER, Role.HELPER):
    person = User.objects.filter(role=role, is_active=True).first()
    if person is None:
        person = User.objects.create_user(username=f"fuzzed-{role}", role=role)
    scope = TokenScope.WRITE if person.may_write else TokenScope.READ
    _token, text = add_token(user=person, name="Fuzzing", scope=scope, days=1, at=timezone.now())
    print(text)
