"""A delivery from a file: first every line as it was read, then one press to post it."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.text import capfirst
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_http_methods, require_safe

from inventory.materials.models import Material
from inventory.purchasing.file_import.actions import Received, receive_file
from inventory.purchasing.file_import.columns import DELIVERY_LINES
from inventory.purchasing.file_import.reading import FileLine, by_name, located, read_lines
from inventory.purchasing.forms.deliveries import DeliveryFileForm
from inventory.purchasing.tables import FileLineTable
from studio.accounts.roles import WORKERS, current_user, role_required
from studio.imports.views.files import table_file
from studio.pages.exports import CSV
from studio.pages.saving import saved, submission_from
from studio.preferences.context import current_studio
from studio.translation import _

STEPS = [gettext_lazy("Choose the file"), gettext_lazy("Check the lines"), gettext_lazy("Saved")]
EXAMPLE: list[dict[str, Any]] = [
    {
        "material": "Sail Loft White",
        "pack_size": "500 ml",
        "packs": 2,
        "price": 19_000_000,
        "best_before": "2028-09-30",
        "place": "Window shelf",
        "batch": "SW-204",
    },
    {"material": "Lantern Amber", "pack_size": "8 fl oz", "price": 9_400_000, "place": "Window shelf"},
    {"material": "Canvas 30 x 30 cm", "pack_size": "10 each", "price": 34_900_000, "place": "Loft"},
]


@require_http_methods(["GET", "POST"])
@role_required(*WORKERS, money=True)
def from_file(request: HttpRequest) -> HttpResponse:
    form = DeliveryFileForm(
        request.POST or None,
        request.FILES or None,
        studio=current_studio(request),
        may_create=current_user(request).is_owner,
        initial={"received_on": timezone.localdate()},
    )
    lines = _read(form) if form.is_bound and form.is_valid() else []
    if lines and not form.errors and form.cleaned_data["seen"] == form.what_was_seen:
        received = saved(form, lambda: _receive(request, form))
        if received is not None:
            return redirect("inventory:delivery", pk=received.delivery.pk)
    total = sum(line.facts.price for line in lines)
    is_ready = bool(lines) and not form.errors
    context = {
        "form": form,
        "kind": DELIVERY_LINES,
        "table": FileLineTable(lines, request, totals={"price": (total, form.invoice_currency)}),
        "is_ready": is_ready,
        "seen": form.what_was_seen if is_ready else "",
        "steps": STEPS,
        "title": _("Delivery from a file"),
        "lead": _("Nothing is saved until you have seen how every line was read."),
        "back_url": reverse("inventory:deliveries"),
        "back_label": _("Deliveries"),
        "second_url": reverse("inventory:delivery-file-example"),
        "second_label": _("Example file"),
        "second_icon": "export",
        "section": "inventory:deliveries",
    }
    return render(
        request, "deliveries/file.html", context, status=422 if form.errors or form.questions else 200
    )


def _read(form: DeliveryFileForm) -> list[FileLine]:
    """Every line that could be read; what is wrong with the others goes onto the form. Nothing is written."""
    if form.table is None:
        return []
    lines, problems = read_lines(
        form.table,
        materials_by_name=by_name(Material.objects.all()),
        currency=form.invoice_currency,
        create=form.may_create,
    )
    for problem in problems:
        form.add_error(None, capfirst(located(problem)))
    return lines


def _receive(request: HttpRequest, form: DeliveryFileForm) -> Received:
    received = receive_file(
        raw=form.raw,
        sheet=form.sheet.name if form.sheet.is_other else "",
        header=form.header,
        create_materials=form.may_create,
        submission=submission_from(request, confirmed=form.confirmations),
        chosen=form.chosen,
        fixed=form.fixed,
    )
    if received.is_new:
        messages.success(request, _("Delivery saved. Each line of the file is now a lot in stock."))
    else:
        messages.info(
            request, _("This file has already been imported as this delivery. Nothing new was saved.")
        )
    return received


@require_safe
@role_required(*WORKERS, money=True)
def example(request: HttpRequest) -> HttpResponse:
    """A small file to start from, written the studio's way."""
    return table_file(DELIVERY_LINES, EXAMPLE, current_studio(request), name="delivery-lines", form=CSV)
