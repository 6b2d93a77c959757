"""Order pages: what is on its way, asking for more, and one order with what has come of it."""

from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext_lazy, pgettext_lazy
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from inventory.materials.choices import by_kind, stocked_materials
from inventory.materials.models import Material, Supplier
from inventory.materials.queries import Buy
from inventory.purchasing.actions.orders import close_order, place_order
from inventory.purchasing.forms.orders import SPARE_LINES, OrderForm, OrderLines, shopping_lines
from inventory.purchasing.incoming import OrderState, progress_of
from inventory.purchasing.models import Order
from inventory.reordering.queries import levels
from inventory.reordering.refresh import stock_changed
from studio.accounts.roles import EVERYONE, WORKERS, current_user, role_required
from studio.errors import MeniscusError
from studio.pages.query_values import whole_number
from studio.preferences.context import current_studio
from studio.preferences.formatting import Formatter, decimal_comma
from studio.translation import _
from studio.values.money import format_money

PER_PAGE = 50
STATES = {
    "open": pgettext_lazy("orders", "Open"),
    "closed": gettext_lazy("Closed"),
    "all": gettext_lazy("All"),
}
SORTS = {
    "ordered": ("ordered_on", "pk"),
    "expected": ("expected_on", "pk"),
    "supplier": ("supplier__name", "pk"),
}


@require_safe
@role_required(*EVERYONE)
def orders(request: HttpRequest) -> HttpResponse:
    state = request.GET.get("state", "open")
    state = state if state in STATES else "open"
    sort = request.GET.get("sort", "expected")
    sort = sort if sort.removeprefix("-") in SORTS else "expected"
    supplier = whole_number(request.GET.get("supplier", ""))
    words = request.GET.get("words", "").strip()[:100]
    listed = Paginator(_chosen(state, supplier, words, sort), PER_PAGE).get_page(request.GET.get("page"))
    today = timezone.localdate()
    context = {
        "page_obj": listed,
        "rows": [_row(state_of, today) for state_of in progress_of(listed)],
        "sort": sort,
        "state": state,
        "states": STATES.items(),
        "supplier": supplier,
        "words": words,
        "suppliers": Supplier.objects.filter(orders__isnull=False).distinct(),
        "has_any": bool(listed) or Order.objects.exists(),
        "section": "inventory:deliveries",
    }
    return render(request, "orders/list.html", context)


def _chosen(state: str, supplier: int | None, words: str, sort: str) -> QuerySet[Order]:
    found = Order.objects.select_related("supplier")
    if state != "all":
        found = found.filter(is_closed=state == "closed")
    if supplier:
        found = found.filter(supplier=supplier)
    if words:
        matching = Material.objects.filter(name__icontains=words, order_lines__isnull=False)
        found = found.filter(reference__icontains=words) | found.filter(
            pk__in=matching.values("order_lines__order")
        )
    sign = "-" if sort.startswith("-") else ""
    return found.order_by(*(sign + column for column in SORTS[sort.removeprefix("-")]))


def _row(state: OrderState, today: Any) -> dict[str, Any]:
    return {
        "order": state.order,
        "state": state,
        "is_late": state.is_late(today),
        "has_come": sum(not line.to_come for line in state.lines),
    }


@require_http_methods(["GET", "POST"])
@role_required(*WORKERS)
def new(request: HttpRequest) -> HttpResponse:
    by_supplier, unsold = _shopping(request)
    supplier = whole_number(request.GET.get("supplier", ""))
    if request.GET.get("low") and supplier not in by_supplier and request.method == "GET":
        context = {
            "choices": sorted(by_supplier.values(), key=lambda buys: buys[0].supplier.name),
            "unsold": unsold,
            "section": "inventory:deliveries",
        }
        return render(request, "orders/shopping.html", context)
    form, lines = _forms(request, supplier, by_supplier.get(supplier or 0, []))
    if form.is_bound and all([form.is_valid(), lines.is_valid()]):
        try:
            placed = place_order(
                facts=form.facts(lines), by=current_user(request), key=form.cleaned_data["key"]
            )
        except MeniscusError as problem:
            form.refuse(problem, lines=lines)
        else:
            stock_changed(request)
            messages.success(request, _("Order recorded. It counts as on its way."), extra_tags="order-new")
            return redirect("inventory:order", pk=placed.pk)
    context = {"form": form, "formset": lines, "section": "inventory:deliveries"}
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
    found = get_object_or_404(Order.objects.select_related("supplier"), pk=pk)
    state = progress_of([found])[0]
    formatter = Formatter.of(current_studio(request))
    user = current_user(request)
    context = {
        "order": found,
        "state": state,
        "is_late": state.is_late(timezone.localdate()),
        "lines": [
            {
                "progress": line,
                "price": format_money(line.line.price, found.supplier.currency, locale=formatter.locale),
            }
            for line in state.lines
        ],
        "total": format_money(
            sum(line.line.price for line in state.lines), found.supplier.currency, locale=formatter.locale
        ),
        "deliveries": found.deliveries.select_related("posting__reversed_by").order_by("received_on", "pk"),
        "may_receive": user.may_write and user.sees_money and state.is_waiting,
        "section": "inventory:deliveries",
    }
    return render(request, "orders/detail.html", context)


@require_POST
@role_required(*WORKERS)
def close(request: HttpRequest, pk: int) -> HttpResponse:
    closed = close_order(order=get_object_or_404(Order, pk=pk))
    stock_changed(request)
    messages.success(request, _("Order closed. Nothing more is expected from it."))
    return redirect("inventory:order", pk=closed.pk)
