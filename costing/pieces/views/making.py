"""Making pieces of pours: one of each, or one of the chosen."""

from itertools import groupby
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST

from costing.papers.queries import size_in_cm
from costing.pieces.actions.pieces import PieceFacts, make_piece, make_pieces_of_session, pours_without_piece
from costing.pieces.actions.splitting import take_apart
from costing.pieces.forms.pieces import PieceForm
from costing.pieces.models import Piece
from inventory.sessions.models import Pour, Session
from studio.accounts.roles import WORKERS, role_required
from studio.auditing.edit_conflicts import read_change_number
from studio.errors import MeniscusError
from studio.pages.query_values import whole_number
from studio.pages.submissions import submission_from
from studio.preferences.context import current_studio
from studio.preferences.formatting import Formatter
from studio.translation import _, ngettext

MOST_POURS = 120  # on one page; older ones come up as these become pieces


@require_http_methods(["GET", "POST"])
@role_required(*WORKERS)
def new(request: HttpRequest) -> HttpResponse:
    loose = pours_without_piece()
    pours = _asked_for(loose, request.GET.get("session", ""))[:MOST_POURS]
    form = PieceForm(
        request.POST if request.method == "POST" else None,
        studio=current_studio(request),
        pours=[pour.pk for pour in pours],
        initial={"pours": [pour.pk for pour in pours] if len(pours) == 1 else []},
    )
    if form.is_bound and form.is_valid():
        said = form.cleaned_data
        try:
            made = make_piece(
                facts=PieceFacts(
                    title=said["title"],
                    pours=[pour for pour in pours if pour.pk in said["pours"]],
                    description=said["description"],
                    size_note=said["size_note"],
                ),
                submission=submission_from(request),
            )
        except MeniscusError as problem:
            form.refuse(problem)
        else:
            messages.success(
                request,
                _("“{title}” created. Write {label} on the back.", title=made.title, label=made.label),
            )
            return redirect("costing:piece", pk=made.pk)
    return _page(request, form, pours, older=len(loose) > len(pours))


@require_POST
@role_required(*WORKERS)
def of_session(request: HttpRequest, pk: int) -> HttpResponse:
    """One piece of each pour of a session that is no piece yet."""
    session = get_object_or_404(Session.objects.standing(), pk=pk)
    try:
        made = make_pieces_of_session(session=session, submission=submission_from(request))
    except MeniscusError as problem:
        messages.error(request, str(problem))
    else:
        messages.success(request, _said_of(len(made), session))
    return redirect("costing:pieces")


@require_POST
@role_required(*WORKERS)
def apart(request: HttpRequest, pk: int) -> HttpResponse:
    """Take a piece apart; its pours are pours again, on the page of their session."""
    piece = get_object_or_404(Piece, pk=pk)
    session = piece.parts.values_list("pour__session", flat=True).order_by("pk").first()
    try:
        take_apart(
            piece=piece,
            seen=read_change_number(request.POST.get("seen", "")),
            submission=submission_from(request),
        )
    except MeniscusError as problem:
        messages.error(request, str(problem))
        return redirect("costing:piece", pk=pk)
    messages.success(request, _("“{title}” has been split: its pours are free again.", title=piece.title))
    return redirect("inventory:session", pk=session) if session else redirect("costing:pieces")


def _said_of(made: int, session: Session) -> str:
    if not made:
        return _("Every good pour of {session} has already been made into a piece.", session=session)
    return ngettext(
        "{count} piece created from {session}.",
        "{count} pieces created from {session}.",
        made,
        count=made,
        session=session,
    )


def _asked_for(pours: list[Pour], session: str) -> list[Pour]:
    """The pours of the session named in the address as ?session=…; of all of them without one."""
    number = whole_number(session)
    return [pour for pour in pours if number is None or pour.session_id == number]


def _page(request: HttpRequest, form: PieceForm, pours: list[Pour], *, older: bool) -> HttpResponse:
    comma = Formatter.of(current_studio(request)).decimal_comma
    groups: list[dict[str, Any]] = [
        {
            "session": session,
            "rows": [{"pour": pour, "size": size_in_cm(pour.surface, decimal_comma=comma)} for pour in found],
        }
        for session, found in groupby(pours, key=lambda pour: pour.session)
    ]
    context = {"form": form, "groups": groups, "older": older, "section": "costing:pieces"}
    return render(request, "pieces/new.html", context, status=422 if form.is_bound else 200)
