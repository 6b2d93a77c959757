"""Delivery pages: the list, logging one, and one with its landed costs."""

from collections.abc import Mapping
from dataclasses import replace
from typing import Any, cast

from django.contrib import messages
from django.db.models import Count, Sum
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from inventory.ledger.views.undo import undo_of
from inventory.materials.actions import save_supplier
from inventory.materials.choices import by_kind, stocked_materials
from inventory.materials.forms.written_lines import WrittenLinesForm, WrittenRows, must_read, rows_so_far
from inventory.materials.models import Material
from inventory.materials.new_in_place import NewMaterials
from inventory.materials.queries import Buy
from inventory.purchasing.actions.deliveries import receive_delivery
from inventory.purchasing.actions.delivery_facts import DeliveryFacts
from inventory.purchasing.actions.pack_prices import update_pack_prices
from inventory.purchasing.correction_history import corrections_of_delivery
from inventory.purchasing.file_import.reading import packs_of
from inventory.purchasing.filters import DeliveryFilter
from inventory.purchasing.forms.deliveries import (
    MOST_LINES,
    SPARE_LINES,
    DeliveryForm,
    DeliveryLines,
    still_to_come,
)
from inventory.purchasing.forms.orders import shopping_lines
from inventory.purchasing.incoming import OrderState, progress_of
from inventory.purchasing.landed_costs import LandedParts, breakdown
from inventory.purchasing.models import Delivery, DeliveryLine, Order
from inventory.purchasing.price_changes import changes_of, last_paid, new_pack_prices
from inventory.purchasing.price_words import new_price_in_words, price_hints, short_change
from inventory.purchasing.tables import DeliveryLineRow, DeliveryLineTable, DeliveryTable, columns_left_out
from inventory.shopping.queries import shopping_list
from inventory.stock.changes import stock_changes
from studio.accounts.roles import EVERYONE, OWNER_ONLY, WORKERS, current_user, role_required
from studio.errors import InputError
from studio.pages.formsets import as_sent
from studio.pages.saving import acted, saved, submission_from
from studio.pages.tables import list_page, page_of
from studio.preferences.context import current_studio
from studio.preferences.formatting import Formatter, decimal_comma
from studio.translation import _
from studio.values.money import rate_text
from studio.values.numbers import read_small_whole

PER_PAGE = 50
SECTION = "inventory:deliveries"


@require_safe
@role_required(*EVERYONE)
def deliveries(request: HttpRequest) -> HttpResponse:
    filters = DeliveryFilter(request.GET, Delivery.objects.all(), request=request)
    standing = Delivery.objects.filter(
        pk__in=filters.qs.order_by().values("pk"), posting__reversed_by__isnull=True
    )
    chosen = filters.qs.annotate(line_count=Count("lines")).select_related("supplier", "posting__reversed_by")
    page_obj = page_of(request, chosen, PER_PAGE)
    context = {
        "page_obj": page_obj,
        "filters": filters,
        "standing": standing.aggregate(count=Count("pk", distinct=True), landed=Sum("lines__landed")),
    }
    return list_page(request, "deliveries/list.html", DeliveryTable(page_obj, request, filters), context)


@require_http_methods(["GET", "POST"])
@role_required(*WORKERS, money=True)
def new(request: HttpRequest) -> HttpResponse:
    answered = _order_answered(request)
    form, lines, written = _forms(request, answered)
    draft = f"delivery-new-{answered.order.pk}" if answered else "delivery-new"
    received = saved(form, lambda: _receive(request, form, lines), lines=lines)
    if received is not None:
        advice = _("Delivery saved. Each line is now a lot in stock.")
        messages.success(request, advice, extra_tags=draft)
        return redirect("inventory:delivery", pk=received.pk)
    context = {
        "form": form,
        "formset": lines,
        "answered": answered,
        "hazardous": [each.line.material for each in answered.still_due] if answered else [],
        "draft": draft,
        "written": written,
        "has_materials": lines.form_kwargs["new"].may_add or bool(lines.form_kwargs["materials"]),
        "send": _("Save delivery"),
        "title": _("Log a delivery"),
        "lead": _(
            "Copy it from the invoice. Every line becomes a lot, with its share of carriage, duty and tax."
        ),
        "back_url": reverse(SECTION),
        "back_label": _("Deliveries"),
        "second_url": reverse("inventory:delivery-file"),
        "second_label": _("Import from a file"),
        "section": SECTION,
    }
    return render(
        request, "deliveries/new.html", context, status=422 if form.is_bound or written.errors else 200
    )


def _receive(request: HttpRequest, form: DeliveryForm, lines: Any) -> Delivery:
    """Add the supplier and the materials that are new, and receive the delivery: all of it or nothing."""
    submission = submission_from(request, key=form.cleaned_data["key"], confirmed=form.confirmations)

    def receive() -> Delivery:
        supplier = form.header.supplier
        if supplier.pk is None:
            save_supplier(supplier, submission=submission)
        return receive_delivery(
            facts=DeliveryFacts(form.header, [row.facts for row in lines.kept]), submission=submission
        )

    return cast("NewMaterials", lines.form_kwargs["new"]).saving_first(receive, submission)


def _in_the_basket(request: HttpRequest) -> list[Buy]:
    """With ?list=yes, what is ticked on the shopping list for the supplier that the address names."""
    supplier = read_small_whole(request.GET.get("supplier", ""))
    listed = shopping_list(timezone.localdate())
    return [line.buy for line in listed.lines if line.is_ticked and line.supplier.pk == supplier]


def _order_answered(request: HttpRequest) -> OrderState | None:
    """The order a delivery answers, named in the address as ?order=…"""
    if "order" not in request.GET:
        return None
    orders = Order.objects.select_related("supplier")
    return progress_of([get_object_or_404(orders, pk=read_small_whole(request.GET["order"]))])[0]


def _forms(request: HttpRequest, answered: OrderState | None) -> tuple[DeliveryForm, Any, WrittenLinesForm]:
    """The head, the lines, and the text that lines are read from.

    The head is read first, because it says the currency of the lines.
    """
    studio, may_add = current_studio(request), current_user(request).is_owner
    data = request.POST if request.method == "POST" else None
    is_reading = data is not None and must_read(data)
    order = answered.order if answered else None
    first: dict[str, Any] = {"received_on": timezone.localdate(), "supplier": request.GET.get("supplier")}
    if order is not None:
        first |= {"currency": order.currency}
    form = DeliveryForm(data, studio=studio, order=order, may_add=may_add, initial=first)
    form.is_valid()
    currency, materials = form.invoice_currency, stocked_materials()
    written = WrittenLinesForm(data if is_reading else None, studio=studio, currency=currency)
    rows = _first_rows(request, answered, materials) if data is None else None
    if is_reading:
        reader = WrittenRows(written, materials, currency, may_add)
        rows = rows_so_far(request, written, reader.of_delivery, at_most=MOST_LINES, untouched={"packs": "1"})
        typed = as_sent(request.POST, leave_out=["key"])
        if not typed.get("carriage", "").strip() and (carriage := reader.carriage()):
            typed["carriage"] = carriage
            reader.put_into_carriage()
        form = DeliveryForm(studio=studio, order=order, may_add=may_add, initial=first | typed)
    lines = DeliveryLines(
        None if is_reading else data,
        prefix="lines",
        initial=rows,
        spare=1 if is_reading else SPARE_LINES,
        form_kwargs={
            "studio": studio,
            "materials": materials,
            "choices": by_kind(materials.values()),
            "new": NewMaterials(materials, may_add),
            "currency": currency,
            "order_lines": {line.line.pk: line.line for line in answered.lines} if answered else {},
            "price_hints": _price_hints(answered, Formatter.of(studio)) if answered else {},
        },
    )
    return form, lines, written


def _first_rows(
    request: HttpRequest, answered: OrderState | None, materials: Mapping[int, Material]
) -> list[dict[str, Any]]:
    """What is still due of an order, or what is in the basket of the shopping list."""
    comma = decimal_comma(current_studio(request).locale)
    if request.GET.get("list"):
        return shopping_lines(_in_the_basket(request), materials, decimal_comma=comma)
    return still_to_come(answered, decimal_comma=comma) if answered else []


def _price_hints(answered: OrderState, formatter: Formatter) -> dict[int, str]:
    order, lines = answered.order, [each.line for each in answered.lines]
    paid = last_paid(order.supplier, order.currency, {line.material_id for line in lines})
    return price_hints(lines, paid, formatter)


def as_read(line: DeliveryLine, formatter: Formatter) -> str:
    """How its packs were typed and understood: "2 packs of 8 US fluid ounces = 236.588 mL"."""
    material, one_pack = line.lot.material, line.quantity // line.packs
    size = formatter.quantity(one_pack, material.measure)
    try:
        reading = formatter.read(line.typed, material.measure, density=material.density)
        # The studio's ounce or the density may have changed since; what was posted then stands.
        size = reading.echo if reading.quantity.amount == one_pack else f"{line.typed} = {size}"
    except InputError:
        pass
    return packs_of(line.packs, size)


@require_safe
@role_required(*EVERYONE)
def delivery(request: HttpRequest, pk: int) -> HttpResponse:
    user, formatter = current_user(request), Formatter.of(current_studio(request))
    row = get_object_or_404(
        Delivery.objects.select_related("supplier", "order", "posting__recorded_by", "posting__reversed_by"),
        pk=pk,
    )
    lines = list(row.lines.select_related("lot__material", "order_line__order", "order_line__material"))
    reversal = getattr(row.posting, "reversed_by", None)
    context: dict[str, Any] = {
        "delivery": row,
        "hazardous": [line.lot.material for line in lines],
        "reversal": reversal,
        "undo": (undo := undo_of(request, row.posting)),
        "changes": stock_changes(row.posting) if undo else [],
        "is_foreign": row.currency != formatter.currency,
        "rate": rate_text(row.rate, decimal_comma=formatter.decimal_comma) if row.rate else "",
        "invoiced": replace(formatter, currency=row.currency).money(row.invoiced),
        "corrections": corrections_of_delivery(row, formatter, sees_money=user.sees_money),
        "title": _("From {supplier}", supplier=row.supplier),
        "lead": formatter.day(row.received_on),
        "back_url": reverse(SECTION),
        "back_label": _("Deliveries"),
        "section": SECTION,
    }
    if user.is_owner and not reversal:
        context["second_url"] = reverse("inventory:delivery-correct", args=[pk])
        context["second_label"] = _("Correct this delivery")
        context["new_prices"] = [
            (new.line, new_price_in_words(new, formatter)) for new in new_pack_prices(row, lines)
        ]
        context["has_list"] = row.supplier.supplies.exists()
    return list_page(request, "deliveries/detail.html", _line_table(request, row, lines), context)


def _line_table(request: HttpRequest, row: Delivery, lines: list[DeliveryLine]) -> DeliveryLineTable:
    """The lines with their costs, and the sum of each part of them."""
    formatter, parts = Formatter.of(current_studio(request)), breakdown(row, lines)
    changes = changes_of(row, lines) if current_user(request).sees_money else {}
    rows = [
        DeliveryLineRow(
            line,
            as_read(line, formatter),
            part.as_printed(formatter.currency),
            [short_change(change, formatter) for change in changes.get(line.lot_id, [])],
        )
        for line, part in zip(lines, parts, strict=True)
    ]
    sums = LandedParts(*map(sum, zip(*parts, strict=True)))
    totals = sums.as_printed(formatter.currency)._asdict() | {"landed": sum(sums)}
    return DeliveryLineTable(
        rows,
        request,
        totals=totals if current_user(request).sees_money else {},
        without=columns_left_out(row, is_foreign=row.currency != formatter.currency),
    )


@require_POST
@role_required(*OWNER_ONLY)
def take_prices(request: HttpRequest, pk: int) -> HttpResponse:
    """Take pack prices into the supplier's list: of the line whose button was pressed, or of every line."""
    row = get_object_or_404(Delivery, pk=pk)
    chosen = read_small_whole(request.POST.get("lot", ""))
    acted(
        request,
        lambda: update_pack_prices(
            delivery=row, submission=submission_from(request), lots=[chosen] if chosen else []
        ),
        _("The supplier's pack prices have been updated."),
    )
    return redirect("inventory:delivery", pk=pk)
