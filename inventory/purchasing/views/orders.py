"""Order pages: what is on its way, and asking for more."""

from collections.abc import Mapping, Sequence
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from inventory.materials.choices import by_kind, stocked_materials
from inventory.materials.models import Material
from inventory.materials.queries import Buy
from inventory.purchasing.actions.orders import place_order
from inventory.purchasing.filters import OrderFilter
from inventory.purchasing.forms.expected_day import usual_days
from inventory.purchasing.forms.orders import SPARE_LINES, OrderForm, OrderLines, shopping_lines
from inventory.purchasing.incoming import progress_of
from inventory.purchasing.models import Order, OrderLine
from inventory.purchasing.tables import OrderTable
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
            facts=form.facts(lines),
            submission=submission_from(request, key=form.cleaned_data["key"]),
            usual_days=usual_days(form.cleaned_data["supplier"], form.studio, on=timezone.localdate()),
        ),
        lines=lines,
    )
    if placed is not None:
        messages.success(
            request, _("{order} saved. It now counts as on order.", order=placed), extra_tags=DRAFT
        )
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
    first_lines = shopping_lines(buys, materials, decimal_comma=decimal_comma(studio.locale))
    return form, line_forms(request, materials, first_lines, currency=currency)


def line_forms(
    request: HttpRequest,
    materials: Mapping[int, Material],
    first: Sequence[Mapping[str, Any]],
    *,
    currency: str | None,
    order_lines: Mapping[int, OrderLine] | None = None,
) -> Any:
    """The rows of an order's form, the first of them filled in; `order_lines` are those that may be changed."""
    return OrderLines(
        request.POST if request.method == "POST" else None,
        prefix="lines",
        spare=SPARE_LINES,
        initial=first,
        form_kwargs={
            "studio": current_studio(request),
            "materials": materials,
            "choices": by_kind(materials.values()),
            "currency": currency,
            "sees_money": current_user(request).sees_money,
            "order_lines": order_lines,
        },
    )
