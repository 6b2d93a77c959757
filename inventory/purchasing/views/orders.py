"""Order pages: what is on its way, asking for more, and one order with what has come of it."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from inventory.materials.choices import by_kind, stocked_materials
from inventory.materials.queries import Buy
from inventory.purchasing.actions.orders import close_order, place_order
from inventory.purchasing.filters import OrderFilter
from inventory.purchasing.forms.orders import SPARE_LINES, OrderForm, OrderLines, shopping_lines
from inventory.purchasing.incoming import progress_of
from inventory.purchasing.models import Order
from inventory.purchasing.tables import OrderLineTable, OrderTable, order_badge
from inventory.shopping.actions import order_as_changed
from inventory.shopping.queries import shopping_list
from studio.accounts.roles import EVERYONE, WORKERS, current_user, role_required
from studio.pages.saving import form_status, saved, submission_from
from studio.pages.tables import list_page, page_of
from studio.preferences.context import current_studio
from studio.preferences.formatting import decimal_comma
from studio.translation import _
from studio.values.numbers import read_small_whole

PER_PAGE = 50
SECTION, DRAFT = "inventory:orders", "order-new"


@require_safe
@role_required(*EVERYONE)
def orders(request: HttpRequest) -> HttpResponse:
    filters = OrderFilter(request.GET, Order.objects.select_related("supplier"), request=request)
    page_obj = page_of(request, filters.qs, PER_PAGE)
    states = progress_of(page_obj)
    context = {
        "page_obj": page_obj,
        "filters": filters,
        "has_any": bool(page_obj) or Order.objects.exists(),
        "back_url": reverse("inventory:deliveries"),
        "back_label": _("Deliveries"),
        "section": SECTION,
    }
    return list_page(request, "orders/list.html", OrderTable(states, request, filters), context)


@require_http_methods(["GET", "POST"])
@role_required(*WORKERS)
def new(request: HttpRequest) -> HttpResponse:
    supplier = read_small_whole(request.GET.get("supplier", ""))
    form, lines = _forms(request, supplier, _from_the_list(request, supplier))
    place = order_as_changed if request.GET.get("list") else place_order
    placed = saved(
        form,
        lambda: place(
            facts=form.facts(lines), submission=submission_from(request, key=form.cleaned_data["key"])
        ),
        lines=lines,
    )
    if placed is not None:
        messages.success(request, _("Order saved. It now counts as on order."), extra_tags=DRAFT)
        return redirect("inventory:order", pk=placed.pk)
    context = {
        "form": form,
        "formset": lines,
        "draft": DRAFT,
        "send": _("Save order"),
        "title": _("New order"),
        "lead": _("What you have ordered from a supplier. It counts as on order until it arrives."),
        "back_url": reverse(SECTION),
        "back_label": _("Orders"),
        "section": SECTION,
    }
    return render(request, "orders/new.html", context, status=form_status(form))


def _from_the_list(request: HttpRequest, supplier: int | None) -> list[Buy]:
    """With ?list=yes, what is not bought yet of the shopping list. A form that was sent has its own lines."""
    if request.method == "POST" or not request.GET.get("list"):
        return []
    listed = shopping_list(timezone.localdate())
    return [line.buy for line in listed.lines if line.supplier.pk == supplier and not line.is_ticked]


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
    row = get_object_or_404(Order.objects.select_related("supplier"), pk=pk)
    state, user = progress_of([row])[0], current_user(request)
    total = sum(each.line.price for each in state.lines), row.supplier.currency
    context = {
        "order": row,
        "badge": order_badge(state),
        "deliveries": row.deliveries.select_related("posting__reversed_by").order_by("received_on", "pk"),
        "title": _("Order from {supplier}", supplier=row.supplier),
        "back_url": reverse(SECTION),
        "back_label": _("Orders"),
        "section": SECTION,
    }
    if user.may_write and user.sees_money and state.is_waiting:
        context["action_url"] = f"{reverse('inventory:delivery-new')}?order={pk}"
        context["action_label"], context["action_icon"] = _("Receive this order"), "delivery"
    table = OrderLineTable(state.lines, request, totals={"price": total} if user.sees_money else {})
    return list_page(request, "orders/detail.html", table, context)


@require_POST
@role_required(*WORKERS)
def close(request: HttpRequest, pk: int) -> HttpResponse:
    closed = close_order(order=get_object_or_404(Order, pk=pk), submission=submission_from(request))
    messages.success(request, _("Order marked as complete."))
    return redirect("inventory:order", pk=closed.pk)
