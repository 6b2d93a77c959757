"""Suppliers, each with the packs that it sells; the pages that add, change and delete both."""

from typing import Any

from django.db.models import Count
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils.functional import cached_property
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_safe

from inventory.materials.actions import save_pack, save_supplier
from inventory.materials.choices import bought_materials
from inventory.materials.forms.suppliers import PackForm, SupplierForm
from inventory.materials.models import Supplier, Supply
from inventory.materials.tables import PackTable, SupplierTable
from studio.accounts.roles import EVERYONE, current_user, role_required
from studio.pages.query_values import whole_number
from studio.pages.reference import DeleteView, EditView, RowView
from studio.pages.tables import list_page, page_of
from studio.preferences.context import current_studio
from studio.preferences.formatting import Formatter
from studio.translation import _

PER_PAGE = 60
SECTION = "inventory:suppliers"


@require_safe
@role_required(*EVERYONE)
def suppliers(request: HttpRequest) -> HttpResponse:
    page_obj = page_of(request, Supplier.objects.annotate(packs=Count("supplies")).order_by("name"), PER_PAGE)
    context = {"page_obj": page_obj, "may_edit": current_user(request).is_owner}
    return list_page(request, "suppliers/list.html", SupplierTable(list(page_obj), request), context)


@require_safe
@role_required(*EVERYONE)
def supplier(request: HttpRequest, pk: int) -> HttpResponse:
    row = get_object_or_404(Supplier, pk=pk)
    packs = list(row.supplies.select_related("material", "supplier"))
    may_edit = current_user(request).is_owner
    context = {
        "supplier": row,
        "table": PackTable(packs, request, without=["supplier"] if may_edit else ["supplier", "edit"]),
        "may_edit": may_edit,
        "title": row.name,
        "back_url": reverse(SECTION),
        "back_label": _("Suppliers"),
        "section": SECTION,
    }
    if may_edit:
        context["second_url"] = reverse("inventory:supplier-edit", args=[pk])
        context["second_label"] = _("Edit")
    return render(request, "suppliers/detail.html", context)


class SupplierEdit(EditView):
    model, form_class = Supplier, SupplierForm
    edit_name = page_name = "inventory:supplier"
    list_name = SECTION
    list_label, add_title = gettext_lazy("Suppliers"), gettext_lazy("Add a supplier")
    action = staticmethod(save_supplier)


class SupplierDelete(DeleteView):
    model = Supplier
    edit_name, list_name = "inventory:supplier", SECTION
    note = gettext_lazy("Only a supplier without packs, orders and deliveries can be deleted.")


class PackView(RowView):
    """A pack is changed from its supplier's page, or from its material's."""

    model = Supply
    queryset = Supply.objects.select_related("supplier", "material")
    edit_name, page_name, list_name = "inventory:pack", "inventory:supplier", SECTION

    def page_row(self, row: Supply | None) -> Supplier | None:
        return row.supplier if row else self.chosen_supplier

    @cached_property
    def chosen_supplier(self) -> Supplier | None:
        """The supplier that the address of a new pack may name."""
        number = whole_number(self.request.GET.get("supplier", ""))
        return Supplier.objects.filter(pk=number).first() if number else None


class PackEdit(PackView, EditView):
    form_class = PackForm
    list_label, add_title = gettext_lazy("Suppliers"), gettext_lazy("Add a pack")
    action = staticmethod(save_pack)

    def get_initial(self) -> dict[str, Any]:
        material = whole_number(self.request.GET.get("material", ""))
        given = {} if self.object else {"supplier": self.chosen_supplier, "material": material}
        return super().get_initial() | given

    def get_form_kwargs(self) -> dict[str, Any]:
        return super().get_form_kwargs() | {"materials": bought_materials()}

    def title_of(self, row: Supply) -> str:
        return _("Edit a pack of {name}", name=row.material)

    def message(self, row: Supply) -> str:
        return _("The pack of {name} has been saved.", name=row.material)


class PackDelete(PackView, DeleteView):
    note = gettext_lazy("Orders and deliveries keep their own prices.")

    def words_for(self, row: Supply) -> str:
        formatter = Formatter.of(current_studio(self.request))
        return f"{row.material}, {formatter.quantity(row.pack_size, row.material.measure)}"
