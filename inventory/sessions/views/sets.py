"""Keeping a session as a set under a name."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.views.decorators.http import require_POST

from inventory.sessions.actions.sets import keep_as_set
from inventory.sessions.models import Session
from studio.accounts.roles import WORKERS, role_required
from studio.errors import MeniscusError
from studio.pages.saving import submission_from
from studio.translation import _


@require_POST
@role_required(*WORKERS)
def keep_set(request: HttpRequest, pk: int) -> HttpResponse:
    """A session is offered as a set from now on; without a name, no longer."""
    session = get_object_or_404(Session.objects.standing(), pk=pk)
    try:
        kept = keep_as_set(session, request.POST.get("set_name", ""), submission=submission_from(request))
    except MeniscusError as problem:
        messages.error(request, str(problem))
        return redirect("inventory:session", pk=pk)
    if kept.set_name:
        messages.success(request, _("“{name}” is offered when you log a session.", name=kept.set_name))
    else:
        messages.success(request, _("This session is no longer offered as a set."))
    return redirect("inventory:session", pk=pk)
