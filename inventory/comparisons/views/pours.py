"""Which pours are in which arm, session by session; and the codes that hide it."""

from typing import Any

from django.contrib import messages
from django.db.models import Count
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_safe

from inventory.comparisons.actions.comparisons import Placement, place_pours
from inventory.comparisons.forms.comparisons import ForAllForm, PourPlaceForm
from inventory.comparisons.models import Comparison, Score
from inventory.sessions.models import Session
from studio.accounts.roles import WORKERS, role_required
from studio.pages.saving import form_status, saved, submission_from
from studio.preferences.context import current_studio
from studio.translation import _
from studio.values.numbers import read_small_whole

MOST_SESSIONS = 40


@require_http_methods(["GET", "POST"])
@role_required(*WORKERS)
def pours(request: HttpRequest, pk: int) -> HttpResponse:
    comparison = get_object_or_404(Comparison.objects.prefetch_related("arms"), pk=pk)
    if comparison.is_finished:
        messages.error(request, _("This comparison is finished, so its pours stay as they are."))
        return redirect("inventory:comparison", pk=pk)
    sessions = _sessions(comparison)
    session = _chosen(request, comparison, sessions)
    data = request.POST if request.method == "POST" else None
    for_all = ForAllForm(data, studio=current_studio(request))
    is_set_up = comparison.shows_arms or _may_show(request, comparison)
    rows = _rows(request, comparison, session, is_hidden=not is_set_up) if session else []

    def place() -> Comparison:
        placements: list[Placement] = []
        for row in rows:
            placement = row.placement(for_all.cleaned_data)
            if placement is not None:
                placements.append(placement)
        return place_pours(comparison=comparison, placements=placements, submission=submission_from(request))

    wrong = [row for row in rows if row.is_bound and not row.is_valid()]
    if not wrong and session and saved(for_all, place) is not None:
        messages.success(request, _("Pours saved."))
        return redirect("inventory:comparison", pk=pk)
    context: dict[str, Any] = {
        "comparison": comparison,
        "form": for_all,
        "rows": rows,
        "formsets": [(row.pour.label, [row]) for row in rows],
        "has_row_errors": bool(wrong),
        "session": session,
        "sessions": sessions,
        "shows_arms": is_set_up,
        "may_show": _is_unscored(comparison),
        "title": _("Pours of {comparison}", comparison=comparison),
        "back_url": reverse("inventory:comparison", args=[pk]),
        "back_label": comparison,
        "section": "inventory:comparisons",
    }
    status = 422 if wrong else form_status(for_all)
    return render(request, "comparisons/pours.html", context, status=status)


def _sessions(comparison: Comparison) -> list[Session]:
    """Sessions whose pours can be compared, newest first, those already in it among them."""
    rows = Session.objects.standing().annotate(pour_count=Count("pours")).filter(pour_count__gt=0)
    recent = list(rows.order_by("-held_on", "-pk")[:MOST_SESSIONS])
    known = rows.filter(pours__compared__comparison=comparison).distinct()
    return [*recent, *(session for session in known if session not in recent)]


def _chosen(request: HttpRequest, comparison: Comparison, sessions: list[Session]) -> Session | None:
    """The session asked for; else the last one in the comparison, else the latest of all."""
    wanted = read_small_whole(request.GET.get("session", ""))
    if wanted is None:
        last = comparison.pours.order_by("-pour__session__held_on").values_list("pour__session", flat=True)
        wanted = last.first()
    return next((each for each in sessions if each.pk == wanted), sessions[0] if sessions else None)


def _is_unscored(comparison: Comparison) -> bool:
    return not Score.objects.filter(pour__comparison=comparison).exists()


def _may_show(request: HttpRequest, comparison: Comparison) -> bool:
    """Whoever sets a blind comparison up asks for its arms, until the first score is in."""
    return request.GET.get("arms") == "shown" and _is_unscored(comparison)


def _rows(
    request: HttpRequest, comparison: Comparison, session: Session, *, is_hidden: bool
) -> list[PourPlaceForm]:
    arms = list(comparison.arms.all())
    by_name = {arm.name: arm.pk for arm in arms}
    known = {each.pour_id: each for each in comparison.pours.select_related("arm")}
    held = session.pours.select_related("surface", "technique", "session__posting__reversed_by")
    return [
        PourPlaceForm(
            request.POST if request.method == "POST" else None,
            prefix=f"pour-{pour.pk}",
            studio=current_studio(request),
            pour=pour,
            arms=arms,
            compared=known.get(pour.pk),
            is_hidden=is_hidden,
            initial=PourPlaceForm.values_of(known.get(pour.pk), pour, by_name),
        )
        for pour in held.order_by("number")
    ]


@require_safe
@role_required(*WORKERS)
def codes(request: HttpRequest, pk: int) -> HttpResponse:
    """Which code belongs on which piece. It does not say which arm a piece is of."""
    comparison = get_object_or_404(Comparison, pk=pk)
    context = {
        "comparison": comparison,
        "pours": comparison.pours.judged().select_related("pour__surface").order_by("pour"),
        "title": _("Codes of {comparison}", comparison=comparison),
        "lead": _("Write the code on a label on each piece, and take the label off again for the dry one."),
        "back_url": reverse("inventory:comparison", args=[pk]),
        "back_label": comparison,
        "section": "inventory:comparisons",
    }
    return render(request, "comparisons/codes.html", context)
