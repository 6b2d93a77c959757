"""Delivery pages: logging one, and one with its landed costs."""

from functools import reduce
from operator import or_
from typing import Any

from django.contrib import messages
from django.db.models import Q, Sum
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from inventory.ledger.models import Entry, Place, Posting, PostingKind
from inventory.ledger.views.undo import undo_of
from inventory.materials.choices import by_kind, stocked_materials
from inventory.purchasing.actions.deliveries import receive_delivery
from inventory.purchasing.actions.delivery_facts import DeliveryFacts
from inventory.purchasing.forms.deliveries import SPARE_LINES, DeliveryForm, DeliveryLines, still_to_come
from inventory.purchasing.incoming import OrderState, progress_of
from inventory.purchasing.landed_costs import LandedParts, breakdown
from inventory.purchasing.models import Delivery, DeliveryLine, Order
from inventory.purchasing.tables import DeliveryLineRow, DeliveryLineTable, columns_left_out
from inventory.purchasing.views import corrections as delivery_corrections
from studio.accounts.roles import EVERYONE, WORKERS, current_user, role_required
from studio.errors import InputError, MeniscusError
from studio.pages.query_values import whole_number
from studio.pages.submissions import submission_from
from studio.pages.tables import list_page
from studio.preferences.context import current_studio
from studio.preferences.formatting import Formatter, decimal_comma
from studio.translation import _
from studio.values.money import format_money
from studio.values.numbers import format_scaled


@require_http_methods(["GET", "POST"])
@role_required(*WORKERS, money=True)
def new(request: HttpRequest) -> HttpResponse:
    answered = _order_answered(request)
    form, lines = _forms(request, answered)
    if form.is_bound and all([form.is_valid(), lines.is_valid()]) and form.header is not None:
        try:
            delivery = receive_delivery(
                facts=DeliveryFacts(form.header, [row.facts for row in lines.kept]),
                submission=submission_from(request, key=form.cleaned_data["key"]),
            )
        except MeniscusError as problem:
            form.refuse(problem, lines=lines)
        else:
            messages.success(
                request,
                _("Delivery saved. Each line is now a lot in stock."),
                extra_tags=_draft_key(answered),
            )
            return redirect("inventory:delivery", pk=delivery.pk)
    context = {
        "form": form,
        "formset": lines,
        "answered": answered,
        "draft": _draft_key(answered),
        "has_materials": bool(lines.form_kwargs["materials"]),
        "section": "inventory:deliveries",
    }
    return render(request, "deliveries/new.html", context, status=422 if form.is_bound else 200)


def _order_answered(request: HttpRequest) -> OrderState | None:
    """The order a delivery answers, named in the address as ?order=…"""
    if "order" not in request.GET:
        return None
    orders = Order.objects.select_related("supplier")
    return progress_of([get_object_or_404(orders, pk=whole_number(request.GET["order"]))])[0]


def _draft_key(answered: OrderState | None) -> str:
    return f"delivery-new-{answered.order.pk}" if answered else "delivery-new"


def _forms(request: HttpRequest, answered: OrderState | None) -> tuple[DeliveryForm, Any]:
    """The head and the lines; the head is read first, because it says the currency of the lines."""
    studio = current_studio(request)
    data = request.POST if request.method == "POST" else None
    order = answered.order if answered else None
    first: dict[str, Any] = {"received_on": timezone.localdate(), "supplier": request.GET.get("supplier")}
    if order is not None:
        first |= {"currency": order.supplier.currency}
    form = DeliveryForm(data, studio=studio, order=order, initial=first)
    form.is_valid()
    materials = stocked_materials()
    to_come = still_to_come(answered, decimal_comma=decimal_comma(studio.locale)) if answered else []
    lines = DeliveryLines(
        data,
        prefix="lines",
        initial=None if data is not None else to_come,
        spare=SPARE_LINES,
        form_kwargs={
            "studio": studio,
            "materials": materials,
            "choices": by_kind(materials.values()),
            "currency": form.invoice_currency,
            "order_lines": {line.line.pk: line.line for line in answered.lines} if answered else {},
        },
    )
    return form, lines


def as_read(line: DeliveryLine, formatter: Formatter) -> str:
    """How one pack was typed and understood: "8 US fluid ounces = 236.588 mL"."""
    material = line.lot.material
    one_pack = line.quantity // line.packs
    try:
        reading = formatter.read(line.typed, material.measure, density=material.density)
    except InputError:
        return formatter.quantity(one_pack, material.measure)
    # The studio's ounce or the density may have changed since; what was posted then stands.
    if reading.quantity.amount != one_pack:
        return f"{line.typed} = {formatter.quantity(one_pack, material.measure)}"
    return reading.echo


@require_safe
@role_required(*EVERYONE)
def delivery(request: HttpRequest, pk: int) -> HttpResponse:
    user = current_user(request)
    delivery = get_object_or_404(
        Delivery.objects.select_related("supplier", "order", "posting__recorded_by", "posting__reversed_by"),
        pk=pk,
    )
    lines = list(delivery.lines.select_related("lot__material", "order_line"))
    formatter = Formatter.of(current_studio(request))
    context: dict[str, Any] = {
        "delivery": delivery,
        "reversal": getattr(delivery.posting, "reversed_by", None),
        "undo": undo_of(request, delivery.posting),
        "section": "inventory:deliveries",
    }
    table = DeliveryLineTable([DeliveryLineRow(line, as_read(line, formatter)) for line in lines], request)
    if user.sees_money:
        parts = breakdown(delivery, lines)
        table = _line_table(request, delivery, lines, parts)
        context |= _costs(delivery, formatter) | {"corrections": _corrections(lines)}
    return list_page(request, "deliveries/detail.html", table, context)


def _line_table(
    request: HttpRequest, delivery: Delivery, lines: list[DeliveryLine], parts: list[LandedParts]
) -> DeliveryLineTable:
    """The lines with their costs, and the sum of each part of them."""
    formatter = Formatter.of(current_studio(request))
    rows = [
        DeliveryLineRow(
            line,
            as_read(line, formatter),
            format_money(line.price, delivery.currency, locale=formatter.locale),
            part,
        )
        for line, part in zip(lines, parts, strict=True)
    ]
    totals = {
        name: sum(getattr(part, name) for part in parts) for name in ("price", "carriage", "duty", "tax")
    }
    return DeliveryLineTable(
        rows,
        request,
        totals={**totals, "landed": sum(totals.values())},
        without=columns_left_out(delivery, is_foreign=delivery.currency != formatter.currency),
    )


def _costs(delivery: Delivery, formatter: Formatter) -> dict[str, Any]:
    return {
        "is_foreign": delivery.currency != formatter.currency,
        "rate": format_scaled(delivery.rate, 6, decimal_comma=formatter.decimal_comma),
    }


def _corrections(lines: list[DeliveryLine]) -> list[dict[str, Any]]:
    """Late changes to what these lines cost; their notes begin with the lot's own words."""
    begins = [Q(note__startswith=delivery_corrections.note_for(line, "")) for line in lines]
    rows = (
        Entry.objects.standing()
        .filter(place=Place.OUTSIDE, posting__kind=PostingKind.COST_CORRECTION)
        .filter(posting__in=Posting.objects.filter(reduce(or_, begins)))
        .values("posting_id", "posting__effective_on", "posting__note")
        .annotate(money=-Sum("money"))
        .order_by("posting_id")
    )
    return [dict(row) for row in rows]
