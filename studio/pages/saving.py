"""What pages that save a form share."""

from collections.abc import Callable, Container
from datetime import date
from typing import Any, TypeVar

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone

from studio.accounts.roles import current_user
from studio.errors import MeniscusError
from studio.pages.forms import StudioForm
from studio.pages.formsets import Rows
from studio.submission import Submission

Result = TypeVar("Result")


def submission_from(
    request: HttpRequest, *, on: date | None = None, key: str = "", confirmed: Container[str] = frozenset()
) -> Submission:
    """What a page's form sent: by the signed-in person, now, about `on` or else today."""
    return Submission(
        by=current_user(request),
        at=timezone.now(),
        on=on or timezone.localdate(),
        key=key,
        confirmed=confirmed,
    )


def saved(form: StudioForm, action: Callable[[], Result], **formsets: Rows) -> Result | None:
    """What an action made of a valid form; None for a form that was not sent or is refused, with why upon it."""
    if not form.is_bound or not all([form.is_valid(), *(rows.is_valid() for rows in formsets.values())]):
        return None
    try:
        return action()
    except MeniscusError as problem:
        form.refuse(problem, **formsets)
        return None


def acted(request: HttpRequest, action: Callable[[], object], done: str) -> bool:
    """Whether an action without a page of its own was carried out; a message says `done`, or why it was refused."""
    try:
        action()
    except MeniscusError as problem:
        messages.error(request, str(problem))
        return False
    messages.success(request, done)
    return True


def form_status(form: StudioForm) -> int:
    """The status of a page that shows a form: 422 when it comes back refused."""
    return 422 if form.is_bound else 200


def form_page(
    request: HttpRequest, form: StudioForm, template: str = "form_page.html", **context: Any
) -> HttpResponse:
    """A page with one form that is saved, as `form_page.html` describes its context."""
    return render(request, template, {"form": form, **context}, status=form_status(form))
