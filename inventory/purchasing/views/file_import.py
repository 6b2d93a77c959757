"""A delivery from a file: first every line as it was read, then one press to post it."""

import csv
import io
from collections.abc import Sequence

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_http_methods, require_safe

from inventory.materials.models import Material
from inventory.purchasing.actions.delivery_facts import DeliveryHeader
from inventory.purchasing.file_import.actions import Received, receive_file
from inventory.purchasing.file_import.reading import (
    DeliveryFileError,
    FileLine,
    by_name,
    decode,
    read_delivery_file,
)
from inventory.purchasing.forms.file_import import DeliveryFileForm
from inventory.purchasing.tables import FileLineRow, FileLineTable
from studio.accounts.roles import WORKERS, current_user, role_required
from studio.errors import InputError, MeniscusError
from studio.pages.submissions import submission_from
from studio.preferences.context import current_studio
from studio.preferences.formatting import Formatter
from studio.translation import _
from studio.values.money import format_money, money_input_text

STEPS = [gettext_lazy("Choose the file"), gettext_lazy("Check the lines"), gettext_lazy("Saved")]
EXAMPLE = [
    ("Sail Loft White", "500 ml", "2", 19_000_000, "2028-09-30", "Window shelf", "SW-204"),
    ("Lantern Amber", "8 fl oz", "1", 9_400_000, "", "Window shelf", ""),
    ("Canvas 30 x 30 cm", "10 each", "1", 34_900_000, "", "Loft", ""),
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
    if request.method == "GET" or not form.is_valid() or form.header is None:
        return _shown(request, form, [], [])
    lines, problems = _read(form)
    if not problems and form.cleaned_data["seen"] == form.what_was_seen:
        received = _received(request, form, form.header)
        if received is not None:
            return redirect("inventory:delivery", pk=received.delivery.pk)
    return _shown(request, form, lines, problems)


def _read(form: DeliveryFileForm) -> tuple[list[FileLine], Sequence[InputError]]:
    """Every line as it was read, and everything wrong. Nothing is written."""
    try:
        text = decode(form.raw)
    except DeliveryFileError as refusal:
        return [], refusal.problems
    return read_delivery_file(
        text,
        studio=form.studio,
        materials_by_name=by_name(Material.objects.all()),
        currency=form.invoice_currency,
        create=form.may_create,
    )


def _received(request: HttpRequest, form: DeliveryFileForm, header: DeliveryHeader) -> Received | None:
    try:
        received = receive_file(
            raw=form.raw, header=header, create_materials=form.may_create, submission=submission_from(request)
        )
    except MeniscusError as problem:
        form.refuse(problem)
        return None
    if received.is_new:
        messages.success(request, _("Delivery saved. Each line of the file is now a lot in stock."))
    else:
        messages.info(
            request, _("This file has already been imported as this delivery. Nothing new was saved.")
        )
    return received


def _shown(
    request: HttpRequest, form: DeliveryFileForm, lines: list[FileLine], problems: Sequence[InputError]
) -> HttpResponse:
    formatter = Formatter.of(current_studio(request))
    was_read = form.is_bound and not form.errors
    currency = form.invoice_currency
    total = sum(line.facts.price for line in lines)
    context = {
        "form": form,
        "problems": problems,
        "table": FileLineTable(
            [
                FileLineRow(line, format_money(line.facts.price, currency, locale=formatter.locale))
                for line in lines
            ],
            request,
            totals={"price": format_money(total, currency, locale=formatter.locale)},
        ),
        "is_ready": was_read and bool(lines) and not problems,
        "carried": form.to_carry if form.raw and not problems else "",
        "seen": form.what_was_seen if was_read and not problems else "",
        "steps": STEPS,
        "section": "inventory:deliveries",
    }
    wrong = bool(form.errors or problems)
    return render(request, "deliveries/file.html", context, status=422 if wrong else 200)


@require_safe
@role_required(*WORKERS, money=True)
def example(request: HttpRequest) -> HttpResponse:
    """A small file to start from, written the studio's way."""
    formatter = Formatter.of(current_studio(request))
    out = io.StringIO(newline="")
    table = csv.writer(out, delimiter=";" if formatter.decimal_comma else ",")
    table.writerow(["material", "quantity", "packs", "price", "best before", "place", "batch"])
    for material, quantity, packs, price, *rest in EXAMPLE:
        amount = money_input_text(price, formatter.currency, decimal_comma=formatter.decimal_comma)
        table.writerow([material, quantity, packs, amount, *rest])
    answer = HttpResponse("\ufeff" + out.getvalue(), content_type="text/csv; charset=utf-8")
    answer["Content-Disposition"] = 'attachment; filename="delivery-lines.csv"'
    return answer
