"""The page on which pours that are logged already are weighed: how much of each ran off."""

from itertools import groupby
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from inventory.comparisons.queries.blinding import hidden_arms
from inventory.errors import UnknownDensity
from inventory.sessions.actions.weighing_later import weigh_pours
from inventory.sessions.forms.weighings import WeighPoursForm
from inventory.sessions.models import Pour, Session
from inventory.sessions.queries.densities import density_of_pours, to_be_weighed
from inventory.sessions.queries.session_costs import account_of
from studio.accounts.roles import WORKERS, role_required
from studio.auditing.queries import last_change_number
from studio.pages.saving import form_page, saved, submission_from
from studio.preferences.context import current_studio
from studio.translation import _, ngettext
from studio.values.numbers import read_small_whole


@require_http_methods(["GET", "POST"])
@role_required(*WORKERS)
def weigh(request: HttpRequest, pk: int) -> HttpResponse:
    session = get_object_or_404(Session.objects.select_related("posting__reversed_by"), pk=pk)
    if hasattr(session.posting, "reversed_by"):
        messages.error(request, _("This session was reversed. Log it again, and weigh its pours there."))
        return redirect("inventory:session", pk=pk)
    seen = last_change_number(Pour, *session.pours.values_list("pk", flat=True))
    lines = _lines(session)
    line = read_small_whole(request.GET.get("line", "")) or 0
    form = WeighPoursForm(
        request.POST if request.method == "POST" else None,
        studio=current_studio(request),
        session=session,
        only=lines[line - 1][1] if 0 < line <= len(lines) else (),
        initial={"seen": seen},
    )
    submission = submission_from(request)
    if saved(
        form, lambda: weigh_pours(facts=form.facts, submission=submission, seen=form.cleaned_data["seen"])
    ):
        count = len(form.cleaned_data["pours"])
        messages.success(request, ngettext("{n} pour weighed.", "{n} pours weighed.", count, n=count))
        return redirect(f"{reverse('inventory:session', args=[pk])}#weighings")
    context: dict[str, Any] = {
        "title": _("Weigh what ran off"),
        "lead": str(session),
        "lines": lines if len(lines) > 1 else [],
        "line": line,
        "back_url": reverse("inventory:session", args=[pk]),
        "back_label": session,
        "section": "inventory:sessions",
        **_missing_density(session),
    }
    return form_page(request, form, "sessions/weigh.html", **context)


def _lines(session: Session) -> list[tuple[str, list[int]]]:
    """Pours alike that were logged one after the other: in words, and by their keys."""
    pours, hidden = session.pours.select_related("surface", "technique").order_by("number"), hidden_arms()
    alike = groupby(pours, key=lambda pour: (pour.surface.name, pour.technique.name, hidden.arm_of(pour)))
    lines = [(", ".join(filter(None, words)), [pour.pk for pour in group]) for words, group in alike]
    return [(_("{n} × {what}", n=len(keys), what=words), keys) for words, keys in lines]


def _missing_density(session: Session) -> dict[str, object]:
    """Why grams cannot become volumes here, and the material to be weighed first; nothing when all is known."""
    accounts = [each for each in account_of(session).pours if each.pour.poured]
    try:
        if accounts:
            density_of_pours(accounts)
    except UnknownDensity as problem:
        return {"problem": str(problem), "unweighed": to_be_weighed(problem)}
    return {}
