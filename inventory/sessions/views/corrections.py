"""Putting a session right: the page opens with what is recorded, and shows all that changes before it is posted."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from inventory.ledger.keyed_records import fingerprint_of
from inventory.ledger.views.effects import effect_table
from inventory.ledger.views.undo import is_in_time
from inventory.sessions.actions.corrections import CorrectionPreview, correct_session, preview_correction
from inventory.sessions.actions.sessions import SessionFacts
from inventory.sessions.correction_tables import work_table
from inventory.sessions.forms.correction_page import SessionCorrection
from inventory.sessions.models import Session
from studio.accounts.roles import WORKERS, role_required
from studio.auditing.queries import last_change_number
from studio.errors import MeniscusError
from studio.pages.saving import form_status, submission_from
from studio.preferences.context import current_studio
from studio.translation import _
from studio.values.numbers import read_small_whole


@require_http_methods(["GET", "POST"])
@role_required(*WORKERS)
def correct(request: HttpRequest, pk: int) -> HttpResponse:
    seen = last_change_number(Session, pk)
    session = get_object_or_404(Session.objects.select_related("posting__reversed_by"), pk=pk)
    if hasattr(session.posting, "reversed_by"):
        messages.error(request, _("This session was reversed, so there is nothing left to correct."))
        return redirect("inventory:session", pk=pk)
    page = SessionCorrection(
        request.POST if request.method == "POST" else None,
        session=session,
        studio=current_studio(request),
        seen=seen,
    )
    # A slip that is put right at once needs no explanation.
    page.form.fields["reason"].required = not is_in_time(session.posting.recorded_at)
    facts = page.facts()
    preview: CorrectionPreview | None = None
    shown = ""
    if facts is not None:
        shown = fingerprint_of([session, facts])
        try:
            if page.form.cleaned_data["shown"] == shown:
                _correct(request, page, facts)
                messages.success(request, _("Session corrected."))
                return redirect("inventory:session", pk=pk)
            preview = _preview(request, page, facts)
        except MeniscusError as problem:
            page.refuse(problem)
    return _page(request, page, preview, shown)


def _given(request: HttpRequest, page: SessionCorrection, facts: SessionFacts) -> dict[str, Any]:
    typed = page.form.cleaned_data
    return {
        "session": page.session,
        "facts": facts,
        "note": typed["reason"],
        "confirm_gain": typed["confirm_gain"],
        "submission": submission_from(
            request, on=page.session.held_on, key=typed["key"], confirmed=page.form.confirmations
        ),
    }


def _correct(request: HttpRequest, page: SessionCorrection, facts: SessionFacts) -> None:
    typed = page.form.cleaned_data
    known = read_small_whole(typed["known"])
    correct_session(**_given(request, page, facts), seen=typed["seen"], known=known)


def _preview(request: HttpRequest, page: SessionCorrection, facts: SessionFacts) -> CorrectionPreview:
    return preview_correction(**_given(request, page, facts))


def _page(
    request: HttpRequest, page: SessionCorrection, preview: CorrectionPreview | None, shown: str
) -> HttpResponse:
    is_shown = preview is not None
    effects, work = (preview.effects, preview.work) if preview is not None else ((), ())
    context = {
        "page": page,
        "form": page.form,
        "formsets": page.formsets,
        "has_row_errors": any(rows.total_error_count() for _name, rows in page.formsets if rows.is_bound),
        "table": effect_table(request, effects),
        "work_table": work_table(request, work),
        "minutes": _minutes(page) if is_shown else None,
        "is_shown": is_shown,
        "shown": shown if is_shown else "",
        "send": _("Save the correction") if is_shown else _("Show what changes"),
        "title": _("Correct {session}", session=page.session),
        "lead": _(
            "Change what was logged wrongly and leave the rest. You see what changes before anything is saved."
        ),
        "back_url": reverse("inventory:session", args=[page.session.pk]),
        "back_label": _("Session"),
        "section": "inventory:sessions",
    }
    return render(
        request, "sessions/correct.html", context, status=200 if is_shown else form_status(page.form)
    )


def _minutes(page: SessionCorrection) -> tuple[int, int] | None:
    """The minutes worked before and after, where they change."""
    before, after = page.session.minutes, page.form.cleaned_data["minutes"] or 0
    return (before, after) if before != after else None
