"""The list of materials; adding one, changing, archiving and deleting it."""

from django.contrib import messages
from django.db.models import Count
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from inventory.materials.actions import archive_material, delete_material, save_material
from inventory.materials.filters import MaterialFilter
from inventory.materials.forms.materials import MaterialForm
from inventory.materials.models import Material
from inventory.materials.tables import MaterialTable
from studio.accounts.roles import EVERYONE, OWNER_ONLY, current_user, role_required
from studio.auditing.queries import last_change_number
from studio.pages.saving import delete_page, form_status, saved
from studio.pages.submissions import submission_from
from studio.pages.tables import list_page, page_of
from studio.preferences.context import current_studio
from studio.translation import _

PER_PAGE = 60
SECTION = "inventory:materials"


@require_safe
@role_required(*EVERYONE)
def materials(request: HttpRequest) -> HttpResponse:
    every = Material.objects.annotate(sold_by=Count("supplies__supplier", distinct=True))
    filters = MaterialFilter(request.GET, queryset=every, request=request)
    page_obj = page_of(request, filters.qs, PER_PAGE)
    context = {
        "page_obj": page_obj,
        "filters": filters,
        "has_any": bool(page_obj.object_list) or Material.objects.exists(),
        "may_edit": current_user(request).is_owner,
    }
    return list_page(request, "materials/list.html", MaterialTable(list(page_obj), request, filters), context)


@require_http_methods(["GET", "POST"])
@role_required(*OWNER_ONLY)
def edit(request: HttpRequest, pk: int | None = None) -> HttpResponse:
    """Change a material; without a key, add one."""
    seen = last_change_number(Material, pk)
    material = None if pk is None else get_object_or_404(Material, pk=pk)
    form = MaterialForm(request.POST or None, studio=current_studio(request), material=material, seen=seen)
    changed = saved(
        form,
        lambda: save_material(
            form.facts(),
            submission=submission_from(request),
            material=material,
            seen=form.cleaned_data["seen"],
        ),
    )
    if changed is not None:
        messages.success(request, _("“{name}” has been saved.", name=changed))
        return redirect("inventory:material", pk=changed.pk)
    context = {
        "form": form,
        "material": material,
        "title": _("Edit {name}", name=material) if material else _("Add a material"),
        "back_url": reverse("inventory:material", args=[pk]) if material else reverse(SECTION),
        "back_label": material.name if material else _("Materials"),
        "delete_url": (
            "" if form.is_in_use or not material else reverse("inventory:material-delete", args=[pk])
        ),
        "section": SECTION,
    }
    return render(request, "materials/form.html", context, status=form_status(form))


@require_POST
@role_required(*OWNER_ONLY)
def archive(request: HttpRequest, pk: int) -> HttpResponse:
    """Archive a material, or bring it back: which of them, the button says."""
    archived = request.POST.get("archived") == "yes"
    material = archive_material(
        get_object_or_404(Material, pk=pk), submission=submission_from(request), archived=archived
    )
    if archived:
        messages.success(request, _("“{name}” has been archived.", name=material))
    else:
        messages.success(request, _("“{name}” is active again.", name=material))
    return redirect("inventory:material", pk=pk)


@require_http_methods(["GET", "POST"])
@role_required(*OWNER_ONLY)
def delete(request: HttpRequest, pk: int) -> HttpResponse:
    material = get_object_or_404(Material, pk=pk)
    return delete_page(
        request,
        material,
        lambda seen: delete_material(material, submission=submission_from(request), seen=seen),
        back=reverse("inventory:material-edit", args=[pk]),
        then=reverse(SECTION),
        note=_("Only a material that has never been used can be deleted; any other can be archived."),
    )
