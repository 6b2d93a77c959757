"""Logging a session: empty, from a plan or as an earlier one was; worked out while one types; and posted."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from inventory.recipes.forms.choices import FormChoices
from inventory.reordering.refresh import stock_changed
from inventory.sessions.actions.sessions import SessionFacts, log_session
from inventory.sessions.forms.costs import show_figures
from inventory.sessions.forms.from_plan import Planned
from inventory.sessions.forms.plan import EnoughForm
from inventory.sessions.forms.repeat import Repeat
from inventory.sessions.forms.sessions import SessionSheet
from inventory.sessions.models import Session
from inventory.sessions.queries.planning import plan_set
from inventory.sessions.queries.session_costs import account_of
from inventory.sessions.views.photos import keep_photos
from inventory.sessions.views.session_list import latest_session, repeat_url
from studio.accounts.roles import WORKERS, current_user, role_required
from studio.errors import MeniscusError
from studio.pages.query_values import whole_number
from studio.preferences.context import current_studio
from studio.preferences.formatting import Formatter
from studio.translation import _

DRAFT = "session-new"


@require_http_methods(["GET", "POST"])
@role_required(*WORKERS)
def new(request: HttpRequest) -> HttpResponse:
    studio = current_studio(request)
    form_choices = FormChoices.for_sessions(Formatter.of(studio))
    if request.method != "POST":
        return _page(request, *_first(request, form_choices))
    asked = request.POST.get("do", "")
    if asked:
        more = asked.removeprefix("more-") if asked.startswith("more-") else ""
        sheet = SessionSheet.worked_out(
            studio=studio, form_choices=form_choices, data=request.POST, more=more
        )
        sketched = SessionSheet.sent(
            studio=studio, form_choices=form_choices, data=request.POST, forgiving=True
        )
        show_figures(sheet, sketched=sketched, today=timezone.localdate())
        return _page(request, sheet)
    sheet = SessionSheet.sent(
        studio=studio, form_choices=form_choices, data=request.POST, files=request.FILES
    )
    facts = sheet.facts()
    session = _log(request, sheet, facts) if facts is not None else None
    if session is None:
        return _page(request, sheet, status=422)
    keep_photos(request, session, sheet.photos)
    return redirect("inventory:session", pk=session.pk)


@require_POST
@role_required(*WORKERS)
def figures(request: HttpRequest) -> HttpResponse:
    """What the session as typed so far would cost and leave on the shelf: a fragment for each row. Writes nothing."""
    form_choices = FormChoices.for_sessions(Formatter.of(current_studio(request)))
    sheet = SessionSheet.sent(
        studio=current_studio(request), form_choices=form_choices, data=request.POST, forgiving=True
    )
    show_figures(sheet, sketched=sheet, today=timezone.localdate())
    return render(request, "sessions/figures.html", {"sheet": sheet})


def _first(request: HttpRequest, form_choices: FormChoices) -> tuple[SessionSheet, dict[str, Any]]:
    """An empty page, an earlier session written in again as ?repeat=…, or a plan by its own question."""
    main: dict[str, Any] = {"held_on": timezone.localdate()}
    rows: dict[str, list[dict[str, Any]]] = {}
    source: dict[str, Any] = {}
    if "repeat" in request.GET:
        earlier = get_object_or_404(Session, pk=whole_number(request.GET["repeat"]))
        repeat = Repeat(account_of(earlier), form_choices)
        main, rows, source = main | repeat.main(), repeat.rows(), {"repeated": earlier}
    elif "surface" in request.GET and (planned := _planned(request, form_choices)):
        rows, source = planned, {"plan": f"{reverse('inventory:enough')}?{request.GET.urlencode()}"}
    return SessionSheet.fresh(
        studio=current_studio(request), form_choices=form_choices, main=main, rows=rows
    ), source


def _planned(request: HttpRequest, form_choices: FormChoices) -> dict[str, list[dict[str, Any]]]:
    """The plan that was asked about, worked out again by the shelf as it stands now."""
    form = EnoughForm.asked(request.GET, studio=current_studio(request), formatter=form_choices.formatter)
    try:
        answer = plan_set(form.plan(), on=timezone.localdate()) if form.is_valid() else None
    except MeniscusError as problem:
        messages.warning(request, str(problem))
        return {}
    if answer is None:
        messages.warning(request, _("That plan cannot be read. Ask “Have I enough?” again."))
        return {}
    planned = Planned(answer, form_choices)
    if planned.left_out:
        names = ", ".join(planned.left_out)
        messages.warning(
            request, _("There is no room here for {names}. Log these as batches of their own.", names=names)
        )
    return planned.rows()


def _log(request: HttpRequest, sheet: SessionSheet, facts: SessionFacts) -> Session | None:
    """Post the session; a refusal goes onto the page."""
    said = sheet.form.cleaned_data
    try:
        session = log_session(
            facts=facts,
            by=current_user(request),
            at=timezone.now(),
            key=said["key"],
            confirm_gain=said["confirm_gain"],
        )
    except MeniscusError as problem:
        sheet.refuse(problem)
        return None
    stock_changed(request)
    messages.success(
        request, _("Session posted. Write each label on the back of its surface."), extra_tags=DRAFT
    )
    return session


def _page(
    request: HttpRequest, sheet: SessionSheet, source: dict[str, Any] | None = None, *, status: int = 200
) -> HttpResponse:
    """`source` says what a page that was not sent yet is filled from."""
    context = {
        "sheet": sheet,
        "draft": DRAFT,
        "is_filled": bool(source),
        "repeat": repeat_url(latest_session()),
        "section": "inventory:sessions",
        **(source or {}),
    }
    return render(request, "sessions/new.html", context, status=status)
