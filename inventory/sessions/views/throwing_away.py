"""The page on which failed pours of a session are thrown away."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from inventory.sessions.actions.throwing_away import throw_away
from inventory.sessions.forms.throwing_away import ThrowAwayForm
from inventory.sessions.models import Pour, Session
from inventory.sessions.queries.pours import bare_failed_pours
from studio.accounts.roles import WORKERS, role_required
from studio.pages.saving import form_page, saved, submission_from
from studio.preferences.context import current_studio
from studio.translation import _, ngettext
from studio.values.numbers import read_small_whole


@require_http_methods(["GET", "POST"])
@role_required(*WORKERS)
def throw_pours_away(request: HttpRequest, pk: int) -> HttpResponse:
    session = get_object_or_404(Session, pk=pk)
    failed = bare_failed_pours().filter(session=session).select_related("surface").order_by("number")
    only = read_small_whole(request.GET.get("pour", ""))
    form = ThrowAwayForm(
        request.POST or None,
        studio=current_studio(request),
        pours=failed,
        initial={"pours": [pour.pk for pour in failed if only in (None, pour.pk)]},
    )
    posting = saved(
        form,
        lambda: throw_away(
            facts=form.facts,
            submission=submission_from(request, on=form.cleaned_data["on"], key=form.cleaned_data["key"]),
        ),
    )
    if posting:
        count = len(form.cleaned_data["pours"])
        done = ngettext("{n} failed pour thrown away.", "{n} failed pours thrown away.", count, n=count)
        messages.success(request, done)
        return redirect("inventory:pour", pk=form.cleaned_data["pours"][0].pk)
    return form_page(
        request,
        form,
        "sessions/throw_away.html",
        title=_("Throw away failed pours"),
        lead=str(session),
        failed=failed,
        good=Pour.objects.in_work().filter(session=session).exclude(outcome=Pour.Outcome.FAILED),
        back_url=reverse("inventory:pour", args=[only]) if only else reverse("inventory:session", args=[pk]),
        back_label=_("Pour") if only else session,
        send=_("Throw away"),
        section="inventory:sessions",
    )
