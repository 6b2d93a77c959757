"""Reversing with one touch what was posted within the hour; afterwards the page that asks for a reason does it."""

from datetime import datetime
from typing import Any
from uuid import uuid4

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST

from inventory.ledger.models import Posting
from inventory.ledger.reversals import may_reverse, refuse_without_right
from inventory.ledger.reversals import reverse as reverse_posting
from inventory.ledger.summaries import reversal_obstacle
from inventory.ledger.undo import minutes_left, minutes_to_undo, standing_corrections
from inventory.ledger.views.one_posting import origin_url, posting_or_404
from studio.accounts.roles import WORKERS, current_user, role_required
from studio.pages.forms import KeyedForm
from studio.pages.saving import acted, submission_from
from studio.preferences.context import current_studio
from studio.translation import _
from studio.values.numbers import read_small_whole


def undo_of(request: HttpRequest, posting: Posting | None) -> dict[str, Any] | None:
    """The button that reverses a posting with one touch, for the page of what it made; none where it is too late."""
    if posting is None or not may_reverse(current_user(request), posting):
        return None
    address = reverse("inventory:posting-undo", args=[posting.pk])
    minutes = minutes_to_undo(posting, at=timezone.now())
    corrected = standing_corrections(posting) if minutes else 0
    return undo_button(address, minutes, what=posting.get_kind_display(), corrected=corrected)


def undo_button(address: str, minutes: int, *, what: str, corrected: int = 0) -> dict[str, Any] | None:
    """What ledger/undo.html shows; `corrected` is how many corrections go back with it."""
    if not minutes:
        return None
    return {"address": address, "minutes": minutes, "what": what, "corrected": corrected, "key": uuid4().hex}


def is_in_time(recorded_at: datetime) -> bool:
    """Whether one touch may still reverse what was recorded then."""
    return minutes_left(recorded_at, at=timezone.now()) > 0


@require_POST
@role_required(*WORKERS)
def undo(request: HttpRequest, number: int) -> HttpResponse:
    row = posting_or_404(number)
    refuse_without_right(current_user(request), row)
    form = KeyedForm(request.POST, studio=current_studio(request))
    if not form.is_valid():
        messages.error(request, _("Reload the page and try again."))
    elif hasattr(row, "reversed_by"):
        messages.success(request, _("Posting {number} has been reversed.", number=number))
    elif obstacle := reversal_obstacle(row):
        messages.error(request, obstacle)
    elif (read_small_whole(request.POST.get("corrected", "")) or 0) != standing_corrections(row):
        messages.warning(
            request, _("It has been corrected since you opened the page. Check it, then undo it.")
        )
    elif not is_in_time(row.recorded_at):
        messages.warning(request, _("More than an hour has passed. Enter a reason and reverse it here."))
        return redirect("inventory:posting-reverse", number=number)
    else:
        submission = submission_from(request, key=form.cleaned_data["key"])
        note = _("Undone within the hour")
        acted(
            request,
            lambda: reverse_posting(posting=row, note=note, submission=submission),
            _("Posting {number} has been reversed.", number=number),
        )
    return redirect(origin_url(row))
