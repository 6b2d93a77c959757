"""One pour: what it took, what it cost, and what was learnt since."""

from typing import Any

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from inventory.comparisons.queries.blinding import hidden_arms
from inventory.errors import UnknownDensity
from inventory.ledger.models import PostingKind
from inventory.ledger.views.undo import undo_of
from inventory.sessions.actions.pours import amend_pour
from inventory.sessions.forms.pours import PourAmendment
from inventory.sessions.models import Pour
from inventory.sessions.queries.densities import density_of_pour, to_be_weighed
from inventory.sessions.queries.pour_history import cost_corrections_of, departures_of
from inventory.sessions.queries.pours import bare_failed_pours
from inventory.sessions.queries.session_costs import PourAccount, pour_account
from inventory.sessions.tables import PourLineTable, outcome_badge
from inventory.sessions.views.photos import photos_on
from studio.accounts.roles import EVERYONE, current_user, role_required
from studio.auditing.queries import history, last_change_number
from studio.auditing.wording import all_in_words
from studio.pages.saving import saved, submission_from
from studio.pages.tables import list_page
from studio.preferences.context import current_studio
from studio.preferences.formatting import Formatter
from studio.translation import _


@require_http_methods(["GET", "POST"])
@role_required(*EVERYONE)
def pour(request: HttpRequest, pk: int) -> HttpResponse:
    user = current_user(request)
    seen = last_change_number(Pour, pk)
    pour = get_object_or_404(
        Pour.objects.select_related("session__posting__reversed_by", "surface", "technique", "over"), pk=pk
    )
    if request.method == "POST" and not user.may_write:
        raise PermissionDenied(_("Your role is read-only."))
    account = pour_account(pour)
    density, unweighed = _density(account)
    form = PourAmendment(
        request.POST if request.method == "POST" else None,
        initial=PourAmendment.values_of(pour, seen=seen),
        density=density,
        studio=current_studio(request),
    )
    submission = submission_from(request)
    if saved(form, lambda: amend_pour(pour=pour, submission=submission, **form.cleaned_data)):
        messages.success(request, _("{label} saved.", label=pour.label))
        return redirect("inventory:pour", pk=pk)
    return _page(request, account, form, {"density": density, "unweighed": unweighed})


def _density(account: PourAccount) -> tuple[int | None, int | None]:
    """The density of what was poured, or else the material that has none; neither where nothing is left of it."""
    try:
        return (density_of_pour(account), None) if account.paint else (None, None)
    except UnknownDensity as problem:
        return None, to_be_weighed(problem)


def _page(
    request: HttpRequest, account: PourAccount, form: PourAmendment, densities: dict[str, object]
) -> HttpResponse:
    pour, arm = account.pour, hidden_arms().arm_of(account.pour)
    reversal = getattr(pour.session.posting, "reversed_by", None)
    departures = departures_of(pour)
    was_poured_here = pour.session.posting.kind != PostingKind.OPENING
    thrown = [each.posting for each in departures if each.posting.kind == PostingKind.POUR_WRITE_OFF]
    sees_money = current_user(request).sees_money
    table = PourLineTable(account.lines, request, totals={"cost": account.cost} if sees_money else {})
    context: dict[str, Any] = {
        "pour": pour,
        "title": _("Pour {label}", label=pour.label),
        "lead": pour.surface.name,
        "back_url": reverse("inventory:session", args=[pour.session_id]) if was_poured_here else "",
        "back_label": pour.session,
        "account": account,
        "arm": arm,
        "beneath": pour.over,
        "badge": outcome_badge(pour),
        "judgements": list(
            pour.judgements.select_related("recorded_by").prefetch_related("judged_flaws__flaw")
        ),
        "above": Pour.objects.standing().filter(over=pour).first(),
        "reversal": reversal,
        "form": form,
        "may_amend": current_user(request).may_write and reversal is None and was_poured_here,
        "departures": departures,
        "undo": undo_of(request, thrown[0]) if thrown else None,
        "may_throw_away": current_user(request).may_write and bare_failed_pours().filter(pk=pour.pk).exists(),
        "corrections": cost_corrections_of([pour]),
        "history": all_in_words(
            [each for each in history(Pour, pour.pk) if each.field != "arm" or arm == pour.arm],
            Formatter.of(current_studio(request)),
        ),
        "section": "inventory:sessions",
        "session": pour.session,
        **densities,
        **photos_on(request, pour.session, pours=[pour], only=pour),
    }
    if not was_poured_here:  # photos stand on the piece
        context["photo_form"] = None
    if context["may_amend"]:
        context["second_url"] = f"{reverse('inventory:plan-repeat')}?pour={pour.pk}"
        context["second_label"] = _("Repeat exactly")
    if form.is_bound:
        return render(request, "sessions/pour.html", {**context, "table": table}, status=422)
    return list_page(request, "sessions/pour.html", table, context)
