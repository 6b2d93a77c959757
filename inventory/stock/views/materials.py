"""What stands on the shelf: the list of materials, and everything known of one material."""

from datetime import date
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone
from django.utils.dateformat import format as date_format
from django.views.decorators.http import require_safe

from inventory.alerts.queries import alert_levels
from inventory.ledger.models import Entry, Lot, Place, Posting, PostingKind
from inventory.ledger.movements import account_movements
from inventory.ledger.views.undo import undo_of
from inventory.materials.models import Material
from inventory.materials.tables import PackTable
from inventory.plans.queries import Promises
from inventory.purchasing.incoming import arrivals
from inventory.recipes.models import Recipe
from inventory.reordering import queries as reorder
from inventory.reordering.covers import covers
from inventory.reordering.drawing import drawing_of
from inventory.reordering.outlooks import Outlook, outlook_of
from inventory.stock import queries as stock
from inventory.stock.changes import stock_changes
from inventory.stock.filters import StockFilter
from inventory.stock.queries import MaterialStock
from inventory.stock.tables import (
    DayFiguresTable,
    DeliveryFigures,
    DeliveryFiguresTable,
    LotRow,
    LotTable,
    MovementTable,
    ReceiptTable,
    StockRow,
    StockTable,
    day_figures,
    is_empty_colour,
)
from inventory.stock.through_time import latest_receipts, use_by_month
from studio.accounts.roles import EVERYONE, current_user, role_required
from studio.pages.charts import BAR_STEP, Bar, bars
from studio.pages.tables import list_page, page_of, wants_file
from studio.preferences.context import current_studio
from studio.preferences.formatting import Formatter
from studio.translation import _
from studio.values.allocation import divide_half_up
from studio.values.numbers import read_small_whole

PER_PAGE = 60
OF_TODAY = ("reserved", "available", "on_order", "lasts_until")  # columns that say nothing of another day
SECTION = "inventory:stock"


@require_safe
@role_required(*EVERYONE)
def stock_page(request: HttpRequest) -> HttpResponse:
    today = timezone.localdate()
    filters = StockFilter(request.GET, request=request)
    as_of = filters.value("as_of")
    materials = filters.rows
    folds_empty = not filters.is_narrowed() and not wants_file(request)
    empty = [row for row in materials if folds_empty and is_empty_colour(row)]
    shown = [row for row in materials if not folds_empty or not is_empty_colour(row)]
    page_obj = page_of(request, shown, PER_PAGE)
    rows = [
        StockRow(held, today, level_mark(filters.levels.get(held.material.pk), held))
        for held in filters.with_covers(list(page_obj))
    ]
    worth = sum(row.money for row in materials)
    has_total = current_user(request).sees_money and len(rows) > 1 and not page_obj.has_other_pages()
    table = StockTable(
        rows,
        request,
        filters,
        totals={"money": worth} if has_total else {},
        without=OF_TODAY if as_of else (),
    )
    context = {
        "page_obj": page_obj,
        "filters": filters,
        **_saved(request),
        "empty_colours": [row.material for row in empty],
        "has_any": bool(empty),
        "as_of": as_of,
        "materials": len(materials),
        "low": sum(1 for row in materials if row.has_open_alert),
        "worth": worth,
        "title": _("Stock"),
    }
    return list_page(request, "stock/list.html", table, context)


def _saved(request: HttpRequest) -> dict[str, Any]:
    """What the opening stock that was saved a moment ago changed, and its lots, whose numbers go onto the bottles."""
    number = read_small_whole(request.GET.get("saved", ""))
    posting = Posting.objects.filter(pk=number, kind=PostingKind.OPENING).first() if number else None
    if posting is None or hasattr(posting, "reversed_by"):
        return {}
    made = Lot.objects.filter(entries__posting=posting).select_related("material").order_by("pk").distinct()
    return {"undo": undo_of(request, posting), "changes": stock_changes(posting), "made_lots": made}


@require_safe
@role_required(*EVERYONE)
def material(request: HttpRequest, pk: int) -> HttpResponse:
    today = timezone.localdate()
    row = get_object_or_404(Material.objects.select_related("recipe"), pk=pk)
    promises = Promises(today)
    held = stock.stock_of(Material.objects.filter(pk=pk), alerts=alert_levels(), figures=promises.on(today))[
        0
    ]
    level = next(iter(reorder.levels(today, materials=[pk], promises=promises)), None)
    outlook = outlook_of(level, today, promises) if level else None
    context = {
        "material": row,
        "row": StockRow(held, today, level_mark(level.level if level else None, held)),
        "plans": promises.plans_that_take(pk),
        "due": arrivals([pk]),
        "lots": _lot_table(request, held, today),
        "receipts": ReceiptTable(latest_receipts(row), request),
        "movements": MovementTable(
            account_movements(Entry.objects.filter(material=row, place=Place.LOT)), request
        ),
        "use": _use(row, today, Formatter.of(current_studio(request))),
        "level": level,
        "cover": covers([level], today).get(pk) if level else None,
        **(_pictures(outlook, request) if outlook else {}),
        "packs": PackTable(
            row.supplies.select_related("supplier", "material")
            .prefetch_related("price_breaks")
            .order_by("-is_preferred", "supplier__name", "pack_size"),
            request,
            without=["material"],
        ),
        "recipe": getattr(row, "recipe", None),
        "recipes": Recipe.objects.filter(versions__parts__material=row).distinct(),
        "may_log": current_user(request).may_write and not row.is_free,
        "keeps_years": _whole_years(row.keeps_days),
        "title": row.name,
        "lead": row.get_kind_display(),
        "back_url": reverse(SECTION),
        "back_label": _("Stock"),
        "section": SECTION,
    }
    return render(request, "stock/material.html", context)


def _whole_years(days: int | None) -> int | None:
    """So many days as years of 365, where they are whole: nobody counts in days so far ahead."""
    years, rest = divmod(days or 0, 365)
    return years if years and not rest else None


def _pictures(outlook: Outlook, request: HttpRequest) -> dict[str, Any]:
    """What the page of a material draws of it through time, and the same figures as tables."""
    formatter, measure = Formatter.of(current_studio(request)), outlook.level.material.measure
    weeks = [
        (formatter.day(first), formatter.short_quantity(used, measure), used) for first, used in outlook.weeks
    ]
    came = [DeliveryFigures(each, measure) for each in reversed(outlook.deliveries)]
    return {
        "outlook": outlook,
        "demand": outlook.demand,
        "drawing": drawing_of(outlook),
        "figures": DayFiguresTable(day_figures(outlook), request),
        "weeks": bars(weeks) if any(used for _first, used in outlook.weeks) else [],
        "weeks_width": len(weeks) * BAR_STEP,
        "came": DeliveryFiguresTable(came, request),
    }


def _lot_table(request: HttpRequest, held: MaterialStock, today: date) -> LotTable:
    measure = held.material.measure
    standing = stock.held_lots(materials=[held.material.pk])
    lots = Lot.objects.in_bulk([each.lot for each in standing])
    rows = [LotRow(each, lots[each.lot], measure, today) for each in standing]
    totals = {"quantity": (held.quantity, measure), "money": held.money}
    return LotTable(rows, request, totals=totals if len(rows) > 1 else {})


def _use(material: Material, today: date, formatter: Formatter) -> list[Bar]:
    return bars(
        [
            (date_format(month, "M Y"), formatter.short_quantity(quantity, material.measure), quantity)
            for month, quantity in use_by_month(material, on=today).items()
        ]
    )


def level_mark(reorder_at: int | None, held: MaterialStock) -> int:
    """Where the reorder level stands on the drawn beaker, in percent of its full mark; 0 draws none."""
    if not reorder_at:
        return 0
    if not held.quantity or not held.level:
        return 100 // stock.LEVELS_WHEN_FULL
    return min(100, divide_half_up(reorder_at * held.level, held.quantity * (stock.FULL_MARK // 100)))
