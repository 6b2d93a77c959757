"""Adding, changing and deleting a pack, from its supplier's page or from its material's."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from inventory.materials.actions import delete_pack, save_pack
from inventory.materials.choices import bought_materials
from inventory.materials.forms.suppliers import PackForm
from inventory.materials.models import Supplier, Supply
from studio.accounts.roles import OWNER_ONLY, role_required
from studio.auditing.queries import last_change_number
from studio.pages.query_values import whole_number
from studio.pages.saving import delete_page, form_status, saved
from studio.pages.submissions import submission_from
from studio.preferences.context import current_studio
from studio.preferences.formatting import Formatter
from studio.translation import _

SECTION = "inventory:suppliers"


@require_http_methods(["GET", "POST"])
@role_required(*OWNER_ONLY)
def edit(request: HttpRequest, pk: int | None = None) -> HttpResponse:
    """Change a pack; without a key, add one to the supplier and the material that the address may name."""
    seen = last_change_number(Supply, pk)
    pack = None if pk is None else _pack(pk)
    supplier = pack.supplier if pack else _chosen_supplier(request)
    form = PackForm(
        request.POST or None,
        studio=current_studio(request),
        materials=bought_materials(),
        pack=pack,
        initial={
            "seen": seen,
            "supplier": supplier,
            "material": whole_number(request.GET.get("material", "")),
        },
    )
    changed = saved(
        form,
        lambda: save_pack(
            form.facts(), submission=submission_from(request), pack=pack, seen=form.cleaned_data["seen"]
        ),
    )
    if changed is not None:
        messages.success(request, _("The pack of {name} has been saved.", name=changed.material))
        return redirect("inventory:supplier", pk=changed.supplier_id)
    context = {
        "form": form,
        "title": _("Edit a pack of {name}", name=pack.material) if pack else _("Add a pack"),
        "back_url": reverse("inventory:supplier", args=[supplier.pk]) if supplier else reverse(SECTION),
        "back_label": supplier.name if supplier else _("Suppliers"),
        "delete_url": reverse("inventory:pack-delete", args=[pk]) if pack else "",
        "section": SECTION,
    }
    return render(request, "form_page.html", context, status=form_status(form))


@require_http_methods(["GET", "POST"])
@role_required(*OWNER_ONLY)
def delete(request: HttpRequest, pk: int) -> HttpResponse:
    pack = _pack(pk)
    size = Formatter.of(current_studio(request)).quantity(pack.pack_size, pack.material.measure)
    return delete_page(
        request,
        pack,
        lambda seen: delete_pack(pack, submission=submission_from(request), seen=seen),
        back=reverse("inventory:pack-edit", args=[pk]),
        then=reverse("inventory:supplier", args=[pack.supplier_id]),
        name=f"{pack.material}, {size}",
        note=_("Orders and deliveries keep their own prices."),
    )


def _pack(pk: int) -> Supply:
    return get_object_or_404(Supply.objects.select_related("supplier", "material"), pk=pk)


def _chosen_supplier(request: HttpRequest) -> Supplier | None:
    number = whole_number(request.GET.get("supplier", ""))
    return Supplier.objects.filter(pk=number).first() if number else None
