"""The reasons why material or work leaves other than by a sale, and the pages that add and rename them."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_safe

from inventory.ledger.forms import ReasonForm
from inventory.ledger.models import Reason
from inventory.ledger.reasons import save_reason
from inventory.ledger.tables import ReasonTable
from studio.accounts.roles import EVERYONE, OWNER_ONLY, current_user, role_required
from studio.auditing.queries import last_change_number
from studio.pages.saving import form_status, saved
from studio.pages.submissions import submission_from
from studio.preferences.context import current_studio
from studio.translation import _

SECTION = "inventory:reasons"


@require_safe
@role_required(*EVERYONE)
def reasons(request: HttpRequest) -> HttpResponse:
    may_edit = current_user(request).is_owner
    table = ReasonTable(Reason.objects.order_by("name", "pk"), request, without=[] if may_edit else ["edit"])
    return render(request, "reasons/list.html", {"table": table, "may_edit": may_edit})


@require_http_methods(["GET", "POST"])
@role_required(*OWNER_ONLY)
def edit(request: HttpRequest, pk: int | None = None) -> HttpResponse:
    """Change a reason; without a key, add one."""
    seen = last_change_number(Reason, pk)
    row = None if pk is None else get_object_or_404(Reason, pk=pk)
    form = ReasonForm(request.POST or None, studio=current_studio(request), reason=row, seen=seen)
    changed = saved(
        form,
        lambda: save_reason(
            form.facts(), submission=submission_from(request), reason=row, seen=form.cleaned_data["seen"]
        ),
    )
    if changed is not None:
        messages.success(request, _("“{name}” has been saved.", name=changed))
        return redirect(SECTION)
    context = {
        "form": form,
        "title": _("Edit {name}", name=row) if row else _("Add a reason"),
        "back_url": reverse(SECTION),
        "back_label": _("Reasons"),
        "section": SECTION,
    }
    return render(request, "form_page.html", context, status=form_status(form))
