"""Order pages: what is on its way, asking for more, and one order with what has come of it."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from inventory.materials.choices import by_kind, stocked_materials
from inventory.materials.models import Material
from inventory.materials.queries import Buy
from inventory.purchasing.actions.orders import close_order, place_order
from inventory.purchasing.filters import OrderFilter
from inventory.purchasing.forms.orders import SPARE_LINES, OrderForm, OrderLines, shopping_lines
from inventory.purchasing.incoming import progress_of
from inventory.purchasing.models import Order
from inventory.purchasing.tables import OrderLineRow, OrderLineTable, OrderRow, OrderTable, order_badge
from inventory.reordering.queries import levels
from studio.accounts.roles import EVERYONE, WORKERS, current_user, role_required
from studio.errors import MeniscusError
from studio.pages.query_values import whole_number
from studio.pages.submissions import submission_from
from studio.pages.tables import list_page, page_of
from studio.preferences.context import current_studio
from studio.preferences.formatting import decimal_comma
from studio.translation import _
from studio.values.money import format_money

PER_PAGE = 50


@require_safe
@role_required(*EVERYONE)
def orders(request: HttpRequest) -> HttpResponse:
    filters = OrderFilter(request.GET, Order.objects.select_related("supplier"), request=request)
    page_obj = page_of(request, filters.qs, PER_PAGE)
    today = timezone.localdate()
    rows = [OrderRow(state, today) for state in progress_of(page_obj)]
    context = {
        "page_obj": page_obj,
        "filters": filters,
        "has_any": bool(page_obj) or Order.objects.exists(),
        "section": "inventory:orders",
    }
    return list_page(request, "orders/list.html", OrderTable(rows, request, filters), context)


@require_http_methods(["GET", "POST"])
@role_required(*WORKERS)
def new(request: HttpRequest) -> HttpResponse:
    by_supplier, unsold = _shopping(request)
    supplier = whole_number(request.GET.get("supplier", ""))
    if request.GET.get("low") and supplier not in by_supplier and request.method == "GET":
        context = {
            "choices": sorted(by_supplier.values(), key=lambda buys: buys[0].supplier.name),
            "unsold": unsold,
            "section": "inventory:orders",
        }
        return render(request, "orders/shopping.html", context)
    form, lines = _forms(request, supplier, by_supplier.get(supplier or 0, []))
    if form.is_bound and all([form.is_valid(), lines.is_valid()]):
        try:
            placed = place_order(
                facts=form.facts(lines), submission=submission_from(request, key=form.cleaned_data["key"])
            )
        except MeniscusError as problem:
            form.refuse(problem, lines=lines)
        else:
            messages.success(request, _("Order saved. It now counts as on order."), extra_tags="order-new")
            return redirect("inventory:order", pk=placed.pk)
    context = {"form": form, "formset": lines, "section": "inventory:orders"}
    return render(request, "orders/new.html", context, status=422 if form.is_bound else 200)


def _shopping(request: HttpRequest) -> tuple[dict[int, list[Buy]], list[Material]]:
    """With ?low=1: what to buy of all that is low, by supplier, and what nobody is listed as selling."""
    by_supplier: dict[int, list[Buy]] = {}
    unsold = []
    if request.GET.get("low") and request.method == "GET":
        for level in levels(timezone.localdate()):
            if level.suggestion:
                by_supplier.setdefault(level.suggestion.supplier.pk, []).append(level.suggestion)
            elif level.is_low:
                unsold.append(level.material)
    return by_supplier, unsold


def _forms(request: HttpRequest, supplier: int | None, buys: list[Buy]) -> tuple[OrderForm, Any]:
    studio = current_studio(request)
    data = request.POST if request.method == "POST" else None
    first = {"ordered_on": timezone.localdate(), "supplier": supplier}
    form = OrderForm(data, studio=studio, initial=first)
    currency = buys[0].currency if buys else None
    if data is not None:
        form.is_valid()
        currency = form.order_currency
    materials = stocked_materials()
    lines = OrderLines(
        data,
        prefix="lines",
        spare=SPARE_LINES,
        initial=shopping_lines(buys, materials, decimal_comma=decimal_comma(studio.locale)),
        form_kwargs={
            "studio": studio,
            "materials": materials,
            "choices": by_kind(materials.values()),
            "currency": currency,
            "sees_money": current_user(request).sees_money,
        },
    )
    return form, lines


@require_safe
@role_required(*EVERYONE)
def order(request: HttpRequest, pk: int) -> HttpResponse:
    order = get_object_or_404(Order.objects.select_related("supplier"), pk=pk)
    state = progress_of([order])[0]
    locale = current_studio(request).locale
    user = current_user(request)
    rows = [
        OrderLineRow(line, format_money(line.line.price, order.supplier.currency, locale=locale))
        for line in state.lines
    ]
    total = sum(line.line.price for line in state.lines)
    totals = {"price": format_money(total, order.supplier.currency, locale=locale)} if user.sees_money else {}
    context = {
        "order": order,
        "badge": order_badge(state, timezone.localdate()),
        "deliveries": order.deliveries.select_related("posting__reversed_by").order_by("received_on", "pk"),
        "may_receive": user.may_write and user.sees_money and state.is_waiting,
        "section": "inventory:orders",
    }
    return list_page(request, "orders/detail.html", OrderLineTable(rows, request, totals=totals), context)


@require_POST
@role_required(*WORKERS)
def close(request: HttpRequest, pk: int) -> HttpResponse:
    closed = close_order(order=get_object_or_404(Order, pk=pk), submission=submission_from(request))
    messages.success(request, _("Order marked as complete."))
    return redirect("inventory:order", pk=closed.pk)
