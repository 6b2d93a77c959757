"""The page of a supplier: its packs, and what its orders and deliveries say."""

from dataclasses import dataclass, replace
from datetime import date
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_safe

from inventory.materials.models import Supplier
from inventory.materials.tables import PackTable
from inventory.purchasing.history_charts import STEP, days_bars, price_path
from inventory.purchasing.order_history import OrderTimes
from inventory.purchasing.supplier_history import PackPrices, history_of
from inventory.purchasing.tables import OrderTable, OrderTimesTable, YearTable
from studio.accounts.roles import EVERYONE, current_user, role_required
from studio.preferences.context import current_studio
from studio.preferences.formatting import Formatter
from studio.translation import _, ngettext
from studio.values.numbers import format_scaled

SECTION = "inventory:suppliers"


@dataclass(frozen=True, slots=True)
class PricePicture:
    """A pack's price through time: its name, its line, what became of it in words, and each figure."""

    name: str
    path: str
    words: str
    figures: list[tuple[str, str]]


@require_safe
@role_required(*EVERYONE)
def supplier(request: HttpRequest, pk: int) -> HttpResponse:
    row, user = get_object_or_404(Supplier, pk=pk), current_user(request)
    packs = list(row.supplies.select_related("material", "supplier").prefetch_related("price_breaks"))
    context = {
        "supplier": row,
        "terms": _terms(row, request),
        "table": PackTable(packs, request, without=["supplier"]),
        "title": row.name,
        "back_url": reverse(SECTION),
        "back_label": _("Suppliers"),
        "section": SECTION,
        **_history(request, row),
    }
    if user.may_write:
        context["action_url"] = f"{reverse('inventory:order-new')}?supplier={pk}"
        context["action_label"], context["action_icon"] = _("New order"), "order"
    if user.is_owner:
        context["second_url"] = reverse("inventory:supplier-edit", args=[pk])
        context["second_label"] = _("Edit")
    return render(request, "suppliers/detail.html", context)


def _terms(supplier: Supplier, request: HttpRequest) -> dict[str, str]:
    """What it asks for an order, in words; nothing for those who see no money."""
    if not current_user(request).sees_money:
        return {}
    formatter = Formatter.of(current_studio(request))
    money = replace(formatter, currency=supplier.currency).money
    rate = supplier.exchange_rate
    return {
        _("Carriage"): money(supplier.carriage) if supplier.carriage else "",
        _("Free carriage from"): money(supplier.free_carriage_from) if supplier.free_carriage_from else "",
        _("Minimum order value"): money(supplier.minimum_order) if supplier.minimum_order else "",
        _("Exchange rate for comparing prices"): (
            format_scaled(rate, 6, decimal_comma=formatter.decimal_comma) if rate else ""
        ),
    }


def _history(request: HttpRequest, supplier: Supplier) -> dict[str, Any]:
    """Open orders, lead times, prices and sums by year, for the supplier's page."""
    today, formatter = timezone.localdate(), Formatter.of(current_studio(request))
    history, sees_money = history_of(supplier, today=today), current_user(request).sees_money
    bars = [bar for times in history.times if (bar := _bar(times, today, formatter))]
    return {
        "open_orders": OrderTable(list(history.open_orders), request, without=["supplier"]),
        "times": OrderTimesTable(list(reversed(history.times)), request),
        "bars": days_bars(bars),
        "bars_width": max(len(bars), 6) * STEP,
        "prices": [_picture(each, formatter) for each in history.prices] if sees_money else [],
        "years": YearTable(list(history.years), request),
    }


def _bar(
    times: OrderTimes, today: date, formatter: Formatter
) -> tuple[str, str, int, int | None, bool] | None:
    """An order's label, words, days taken, days promised and whether it is open; None where nothing can be said."""
    taken = (today - times.ordered_on).days if times.is_open else max(times.days_taken, default=None)
    if taken is None or taken < 0:
        return None
    words = (
        ngettext("{n} day so far", "{n} days so far", taken, n=taken)
        if times.is_open
        else ngettext("{n} day", "{n} days", taken, n=taken)
    )
    if times.days_promised is not None:
        words = _("{words}, promised in {promised}", words=words, promised=times.days_promised)
    label = _("Order {number}, {day}", number=times.number, day=formatter.day(times.ordered_on))
    return label, words, taken, times.days_promised, times.is_open


def _picture(pack: PackPrices, formatter: Formatter) -> PricePicture:
    own = replace(formatter, currency=pack.currency)
    first, last = pack.prices[0][1], pack.prices[-1][1]
    words = {
        "first": own.money(first),
        "last": own.money(last),
        "difference": own.money(abs(pack.difference)),
    }
    if pack.difference > 0:
        change = _("▲ {difference} more: {first}, now {last}", **words)
    elif pack.difference < 0:
        change = _("▼ {difference} less: {first}, now {last}", **words)
    else:
        change = _("{last}, as at first", **words)
    return PricePicture(
        f"{pack.material}, {formatter.quantity(pack.pack, pack.material.measure)}",
        price_path(pack.prices),
        change,
        [(formatter.day(day), own.money(price)) for day, price in pack.prices],
    )
