"""What a page's form sent, as the submission that an action takes."""

from datetime import date

from django.http import HttpRequest
from django.utils import timezone

from studio.accounts.roles import current_user
from studio.submission import Submission


def submission_from(request: HttpRequest, *, on: date | None = None, key: str = "") -> Submission:
    """By the signed-in person, now, about `on` or else today."""
    return Submission(by=current_user(request), at=timezone.now(), on=on or timezone.localdate(), key=key)
