"""The page where somebody changes the own password."""

from typing import Any

from django.contrib.auth.views import PasswordChangeView
from django.db import transaction
from django.http import HttpRequest, HttpResponse

from studio.accounts.roles import current_user
from studio.auditing.edit_conflicts import lock_row


class OwnPassword(PasswordChangeView):
    """Asks for the old password. The account is read under lock: of two at once, the second types an old one wrong."""

    def post(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        person = current_user(request)
        with transaction.atomic():
            lock_row(person)
            person.refresh_from_db()
            return super().post(request, *args, **kwargs)
