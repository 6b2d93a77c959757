"""The techniques, and the pages that change them."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_safe

from inventory.sessions.actions.techniques import delete_technique, save_technique
from inventory.sessions.forms.techniques import TechniqueForm
from inventory.sessions.models import Technique
from inventory.sessions.tables import TechniqueTable
from studio.accounts.roles import EVERYONE, OWNER_ONLY, current_user, role_required
from studio.auditing.queries import last_change_number
from studio.auditing.reference_rows import is_in_use
from studio.pages.saving import delete_page, form_status, saved
from studio.pages.submissions import submission_from
from studio.preferences.context import current_studio
from studio.translation import _

SECTION = "inventory:techniques"


@require_safe
@role_required(*EVERYONE)
def techniques(request: HttpRequest) -> HttpResponse:
    may_edit = current_user(request).is_owner
    rows = list(Technique.objects.order_by("name", "pk"))
    table = TechniqueTable(rows, request, without=[] if may_edit else ["edit"])
    return render(request, "techniques/list.html", {"table": table, "may_edit": may_edit})


@require_http_methods(["GET", "POST"])
@role_required(*OWNER_ONLY)
def edit(request: HttpRequest, pk: int | None = None) -> HttpResponse:
    """Change a technique; without a key, add one."""
    seen = last_change_number(Technique, pk)
    row = None if pk is None else get_object_or_404(Technique, pk=pk)
    form = TechniqueForm(request.POST or None, studio=current_studio(request), technique=row, seen=seen)
    changed = saved(
        form,
        lambda: save_technique(
            form.facts(), submission=submission_from(request), technique=row, seen=form.cleaned_data["seen"]
        ),
    )
    if changed is not None:
        messages.success(request, _("“{name}” has been saved.", name=changed))
        return redirect(SECTION)
    context = {
        "form": form,
        "title": _("Edit {name}", name=row) if row else _("Add a technique"),
        "back_url": reverse(SECTION),
        "back_label": _("Techniques"),
        "delete_url": (
            "" if row is None or is_in_use(row) else reverse("inventory:technique-delete", args=[pk])
        ),
        "section": SECTION,
    }
    return render(request, "form_page.html", context, status=form_status(form))


@require_http_methods(["GET", "POST"])
@role_required(*OWNER_ONLY)
def delete(request: HttpRequest, pk: int) -> HttpResponse:
    row = get_object_or_404(Technique, pk=pk)
    return delete_page(
        request,
        row,
        lambda seen: delete_technique(row, submission=submission_from(request), seen=seen),
        back=reverse("inventory:technique-edit", args=[pk]),
        then=reverse(SECTION),
        note=_("Only a technique that nothing was poured with can be deleted."),
    )
