"""What pieces earned, and which of them wait for a buyer. Not tax or legal advice."""

from typing import Any
from urllib.parse import urlencode

from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_safe

from costing.commissions.queries import kept_deposits
from costing.earnings.filters import BY_LABELS, EarningsFilter
from costing.earnings.queries import Earned, Group, hourly, stock_turn, waiting_pieces, worked_in
from costing.earnings.tables import EarningsTable, GroupRow, WaitingTable
from costing.selling.models import Sale
from costing.selling.queries import SalesTotal
from studio.accounts.roles import EVERYONE, role_required
from studio.pages.charts import BAR_STEP, Bar, bars
from studio.pages.periods import period_links
from studio.pages.tables import list_page, page_of
from studio.preferences.context import current_studio
from studio.preferences.formatting import Formatter
from studio.translation import _
from studio.values.numbers import format_scaled

SECTION = "costing:earnings"
MONTHS_DRAWN, PER_PAGE = 24, 100
WAITING_PER_PAGE = 25


@require_safe
@role_required(*EVERYONE, money=True)
def earnings(request: HttpRequest) -> HttpResponse:
    filters = EarningsFilter(request.GET, Sale.objects.all(), request=request)
    formatter = Formatter.of(current_studio(request))
    everything = filters.everything(formatter, today=timezone.localdate())
    earned = filters.looked_into(everything)
    total = earned.total
    rows = [GroupRow(group, _address(filters, group)) for group in earned.groups(filters.sorted_by)]
    page_obj = page_of(request, rows, PER_PAGE)
    table = EarningsTable(
        page_obj,
        request,
        totals={
            **total.by_column,
            "takings": total.paid,
            "count": total.count,
            "monthly": total.monthly_fees,
            "hours": total.seconds,
        },
        without=_without(total),
    )
    context = {
        "title": _("What it earned"),
        "lead": _("Takings, fees, net proceeds, cost and profit of what was sold."),
        "section": SECTION,
        "page_obj": page_obj,
        "filters": filters,
        "periods": period_links(
            request, today=timezone.localdate(), shown=(filters.value("first"), filters.value("last"))
        ),
        "total": total,
        "has_sales": bool(everything.lines) or Sale.objects.exists(),
        "kept": kept_deposits(filters.value("first"), filters.value("last")),
        "within": _within(earned, filters),
        "whole": _whole(filters),
        **_chart(earned, formatter),
        "hourly": hourly(total),
        "hours": formatter.hours(total.seconds),
        **_worked(everything, filters, formatter),
        **_turn(filters, formatter),
    }
    return list_page(request, "earnings/earnings.html", table, context)


def _without(total: SalesTotal) -> list[str]:
    """The columns that nothing stands in."""
    amounts = {
        "tax": total.tax,
        "monthly": total.monthly_fees,
        "hours": total.seconds,
        "per_hour": total.seconds,
    }
    return [name for name, amount in amounts.items() if not amount]


def _worked(earned: Earned, filters: EarningsFilter, formatter: Formatter) -> dict[str, Any]:
    """All work of the period beside all its sales: nothing where only some of the sales are looked at."""
    if filters.value("channel") or filters.value("within"):
        return {}
    first, last = filters.period(today=timezone.localdate())
    if first is None or last < first:
        return {}
    worked = worked_in(first, last, earned.total.profit)
    return {
        "worked": worked,
        "worked_hours": formatter.hours(worked.seconds),
        "worked_first": formatter.day(first),
        "worked_last": formatter.day(last),
    }


def _query(filters: EarningsFilter, **changed: str) -> str:
    """The address of the page with the period and channel that are asked for, and what is changed."""
    kept = {name: (filters.data or {}).get(name, "") for name in ("first", "last", "channel")}
    asked = {name: value for name, value in {**kept, **changed}.items() if value or name == "key"}
    return f"{reverse(SECTION)}?{urlencode(asked)}"


def _address(filters: EarningsFilter, group: Group) -> str:
    """What a group is made of: its piece, or all its pieces."""
    if group.piece is not None:
        return reverse("costing:piece", args=[group.piece.pk])
    return _query(filters, by="piece", within=filters.sorted_by, key=group.key)


def _whole(filters: EarningsFilter) -> str:
    return _query(filters, by=str(filters.value("within") or filters.sorted_by))


def _within(earned: Earned, filters: EarningsFilter) -> str:
    """The group that is looked into, in words."""
    by, key = filters.value("within"), filters.value("key") or ""
    return f"{BY_LABELS[by]}: {earned.label_of(by, key)}" if by else ""


def _chart(earned: Earned, formatter: Formatter) -> dict[str, Any]:
    """Net proceeds month by month. A month in which more went back than came in has no bar."""
    months = earned.groups("month")[-MONTHS_DRAWN:]
    drawn: list[Bar] = bars(
        [
            (group.label, formatter.money(group.total.net_proceeds), group.total.net_proceeds)
            for group in months
        ]
    )
    return {"bars": drawn if len(months) > 1 else [], "chart_width": BAR_STEP * max(len(months), 12)}


def _turn(filters: EarningsFilter, formatter: Formatter) -> dict[str, Any]:
    """Stock turn over the period asked for, or from the first sale to today."""
    first, last = filters.period(today=timezone.localdate())
    if first is None or last < first:
        return {}
    found = stock_turn(first, last)
    if found.turn is None:
        return {}
    tenths = round(found.turn * 10)
    return {
        "turn": format_scaled(tenths, 1, decimal_comma=formatter.decimal_comma),
        "turned": found,
        "turn_first": formatter.day(first),
        "turn_last": formatter.day(last),
    }


@require_safe
@role_required(*EVERYONE, money=True)
def slow_sellers(request: HttpRequest) -> HttpResponse:
    waiting = waiting_pieces(timezone.localdate(), Formatter.of(current_studio(request)))
    page_obj = page_of(request, waiting.pieces, WAITING_PER_PAGE)
    table = WaitingTable(page_obj, request, totals={"cost": waiting.cost} if waiting.pieces else {})
    context = {
        "title": _("Slow sellers"),
        "lead": _("What is for sale, and how long it has waited for a buyer."),
        "page_obj": page_obj,
        "waiting": waiting,
        "section": SECTION,
        "back_url": reverse(SECTION),
        "back_label": _("What it earned"),
    }
    return list_page(request, "earnings/slow_sellers.html", table, context)
