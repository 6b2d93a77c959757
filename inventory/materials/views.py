"""Pages of materials, and of suppliers with the packs they sell."""

from typing import Any

from django.contrib import messages
from django.db.models import Count
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils.functional import cached_property
from django.utils.http import url_has_allowed_host_and_scheme
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_POST, require_safe

from inventory.materials.actions import save_material, save_pack, save_supplier
from inventory.materials.choices import bought_materials
from inventory.materials.filters import MaterialFilter
from inventory.materials.forms.materials import DensitySampleForm, MaterialForm
from inventory.materials.forms.suppliers import PackForm, SupplierForm
from inventory.materials.models import Material, Supplier, Supply
from inventory.materials.packs import LONGEST_CODE
from inventory.materials.tables import MaterialTable, SupplierTable
from studio.accounts.roles import EVERYONE, OWNER_ONLY, WORKERS, role_required
from studio.auditing.reference_rows import set_columns
from studio.pages.reference import DeleteView, EditView, RowView
from studio.pages.saving import submission_from
from studio.pages.tables import list_page, page_of
from studio.preferences.context import current_studio
from studio.preferences.formatting import Formatter
from studio.submission import transaction
from studio.translation import _
from studio.values.numbers import format_scaled, read_small_whole
from studio.values.units import Measure

PER_PAGE = 60
MATERIALS, SUPPLIERS = "inventory:materials", "inventory:suppliers"


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
    }
    return list_page(request, "materials/list.html", MaterialTable(list(page_obj), request, filters), context)


class MaterialEdit(EditView):
    model, form_class = Material, MaterialForm
    template_name = "materials/form.html"
    edit_name = page_name = "inventory:material"
    list_name = MATERIALS
    list_label, add_title = gettext_lazy("Materials"), gettext_lazy("Add a material")
    action = staticmethod(save_material)


class DensitySample(EditView):
    """Weigh a measured sample: whoever works at the bench may, for its density is needed there."""

    model, form_class = Material, DensitySampleForm
    queryset = Material.objects.filter(measure__in=[Measure.VOLUME, Measure.MASS], recipe__isnull=True)
    roles = WORKERS
    can_delete = False
    edit_name, page_name, list_name = "inventory:material-density", "inventory:material", MATERIALS
    list_label = gettext_lazy("Materials")
    action = staticmethod(save_material)

    def title_of(self, row: Material) -> str:
        return _("Density of {name}", name=row)

    def address_after(self, row: Any) -> str:
        """Back to the page that asked for it, where it is one of ours."""
        back = str(self.request.POST.get("next", ""))
        is_ours = back.startswith("/") and url_has_allowed_host_and_scheme(back, allowed_hosts=None)
        return back if is_ours else super().address_after(row)

    def message(self, row: Material) -> str:
        density = format_scaled(
            row.density or 0, 6, decimal_comma=Formatter.of(current_studio(self.request)).decimal_comma
        )
        return _("{name}: {density} g/mL has been saved.", name=row, density=density)

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        lead = _("Weigh a known volume of it, 50 mL or more: the more, the surer.")
        return {"lead": lead, **super().get_context_data(**kwargs)}


class MaterialDelete(DeleteView):
    model = Material
    edit_name, list_name = "inventory:material", MATERIALS
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


@require_safe
@role_required(*EVERYONE)
def suppliers(request: HttpRequest) -> HttpResponse:
    page_obj = page_of(request, Supplier.objects.annotate(packs=Count("supplies")).order_by("name"), PER_PAGE)
    context = {"page_obj": page_obj}
    return list_page(request, "suppliers/list.html", SupplierTable(list(page_obj), request), context)


class SupplierEdit(EditView):
    model, form_class = Supplier, SupplierForm
    edit_name = page_name = "inventory:supplier"
    list_name = SUPPLIERS
    list_label, add_title = gettext_lazy("Suppliers"), gettext_lazy("Add a supplier")
    action = staticmethod(save_supplier)


class SupplierDelete(DeleteView):
    model = Supplier
    edit_name, list_name = "inventory:supplier", SUPPLIERS
    note = gettext_lazy("Only a supplier without packs, orders and deliveries can be deleted.")


class PackView(RowView):
    """A pack is changed from its supplier's page, or from its material's."""

    model = Supply
    queryset = Supply.objects.select_related("supplier", "material")
    edit_name, page_name, list_name = "inventory:pack", "inventory:supplier", SUPPLIERS

    def page_row(self, row: Supply | None) -> Supplier | None:
        return row.supplier if row else self.chosen_supplier

    @cached_property
    def chosen_supplier(self) -> Supplier | None:
        """The supplier that the address of a new pack may name."""
        number = read_small_whole(self.request.GET.get("supplier", ""))
        return Supplier.objects.filter(pk=number).first() if number else None


class PackEdit(PackView, EditView):
    form_class = PackForm
    list_label, add_title = gettext_lazy("Suppliers"), gettext_lazy("Add a pack")

    def get_initial(self) -> dict[str, Any]:
        material = read_small_whole(self.request.GET.get("material", ""))
        scanned = self.request.GET.get("barcode", "")[:LONGEST_CODE]
        given = {"supplier": self.chosen_supplier, "material": material, "barcode": scanned}
        given = {} if self.object else given
        return super().get_initial() | given

    def get_form_kwargs(self) -> dict[str, Any]:
        return super().get_form_kwargs() | {"materials": bought_materials()}

    def written(self, form: Any) -> Any:
        breaks = form.cleaned_data["price_breaks"]
        seen = form.cleaned_data["seen"]
        submission = submission_from(self.request)
        with transaction(submission):  # a new supplier is there with its first pack, or not at all
            if form.instance.supplier.pk is None:
                form.instance.supplier = save_supplier(form.instance.supplier, submission=submission)
            return save_pack(form.instance, submission=submission, seen=seen, breaks=breaks)

    def title_of(self, row: Supply) -> str:
        return _("Edit a pack of {name}", name=row.material)

    def message(self, row: Supply) -> str:
        return _("The pack of {name} has been saved.", name=row.material)


class PackDelete(PackView, DeleteView):
    note = gettext_lazy("Orders and deliveries keep their own prices.")

    def words_for(self, row: Supply) -> str:
        formatter = Formatter.of(current_studio(self.request))
        return f"{row.material}, {formatter.quantity(row.pack_size, row.material.measure)}"
