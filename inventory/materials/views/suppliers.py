"""Suppliers, each with the packs that it sells."""

from django.contrib import messages
from django.db.models import Count
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_safe

from inventory.materials.actions import delete_supplier, save_supplier
from inventory.materials.forms.suppliers import SupplierForm
from inventory.materials.models import Supplier
from inventory.materials.tables import PackTable, SupplierTable
from studio.accounts.roles import EVERYONE, OWNER_ONLY, current_user, role_required
from studio.auditing.queries import last_change_number
from studio.auditing.reference_rows import is_in_use
from studio.pages.saving import delete_page, form_status, saved
from studio.pages.submissions import submission_from
from studio.pages.tables import list_page, page_of
from studio.preferences.context import current_studio
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
        "title": row.name,
        "table": PackTable(packs, request, without=["supplier"] if may_edit else ["supplier", "edit"]),
        "may_edit": may_edit,
        "section": SECTION,
    }
    return render(request, "suppliers/detail.html", context)


@require_http_methods(["GET", "POST"])
@role_required(*OWNER_ONLY)
def edit(request: HttpRequest, pk: int | None = None) -> HttpResponse:
    """Change a supplier; without a key, add one."""
    seen = last_change_number(Supplier, pk)
    row = None if pk is None else get_object_or_404(Supplier, pk=pk)
    form = SupplierForm(request.POST or None, studio=current_studio(request), supplier=row, seen=seen)
    changed = saved(
        form,
        lambda: save_supplier(
            form.facts(), submission=submission_from(request), supplier=row, seen=form.cleaned_data["seen"]
        ),
    )
    if changed is not None:
        messages.success(request, _("“{name}” has been saved.", name=changed))
        return redirect("inventory:supplier", pk=changed.pk)
    context = {
        "form": form,
        "title": _("Edit {name}", name=row) if row else _("Add a supplier"),
        "back_url": reverse("inventory:supplier", args=[pk]) if row else reverse(SECTION),
        "back_label": row.name if row else _("Suppliers"),
        "delete_url": (
            "" if row is None or is_in_use(row) else reverse("inventory:supplier-delete", args=[pk])
        ),
        "section": SECTION,
    }
    return render(request, "form_page.html", context, status=form_status(form))


@require_http_methods(["GET", "POST"])
@role_required(*OWNER_ONLY)
def delete(request: HttpRequest, pk: int) -> HttpResponse:
    row = get_object_or_404(Supplier, pk=pk)
    return delete_page(
        request,
        row,
        lambda seen: delete_supplier(row, submission=submission_from(request), seen=seen),
        back=reverse("inventory:supplier-edit", args=[pk]),
        then=reverse(SECTION),
        note=_("Only a supplier without packs, orders and deliveries can be deleted."),
    )
