"""The list of materials; adding one, changing, archiving and deleting it."""

from django.contrib import messages
from django.db.models import Count
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_POST, require_safe

from inventory.materials.actions import save_material
from inventory.materials.filters import MaterialFilter
from inventory.materials.forms.materials import MaterialForm
from inventory.materials.models import Material
from inventory.materials.tables import MaterialTable
from studio.accounts.roles import EVERYONE, OWNER_ONLY, current_user, role_required
from studio.auditing.reference_rows import set_columns
from studio.pages.reference import DeleteView, EditView
from studio.pages.submissions import submission_from
from studio.pages.tables import list_page, page_of
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


class MaterialEdit(EditView):
    model, form_class = Material, MaterialForm
    template_name = "materials/form.html"
    edit_name = page_name = "inventory:material"
    list_name = SECTION
    list_label, add_title = gettext_lazy("Materials"), gettext_lazy("Add a material")
    action = staticmethod(save_material)


class MaterialDelete(DeleteView):
    model = Material
    edit_name, list_name = "inventory:material", SECTION
    note = gettext_lazy("Only a material that has never been used can be deleted; any other can be archived.")


@require_POST
@role_required(*OWNER_ONLY)
def archive(request: HttpRequest, pk: int) -> HttpResponse:
    """Archive a material, or bring it back: which of them, the button says."""
    archived = request.POST.get("archived") == "yes"
    material = get_object_or_404(Material, pk=pk)
    set_columns(material, submission=submission_from(request), is_archived=archived)
    if archived:
        messages.success(request, _("“{name}” has been archived.", name=material))
    else:
        messages.success(request, _("“{name}” is active again.", name=material))
    return redirect("inventory:material", pk=pk)
