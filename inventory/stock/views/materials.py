"""What stands on the shelf: the list of materials, and everything known of one material."""

from collections.abc import Sequence
from datetime import date

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.utils.dateformat import format as date_format
from django.views.decorators.http import require_safe

from inventory.ledger.models import Lot
from inventory.materials.models import Material
from inventory.materials.tables import PackTable
from inventory.recipes.models import Recipe
from inventory.reordering import queries as reorder
from inventory.stock import queries as stock
from inventory.stock.cards import MaterialCard, MonthUse, material_card
from inventory.stock.filters import StockFilter
from inventory.stock.queries import MaterialStock
from inventory.stock.tables import LotRow, LotTable, MovementTable, ReceiptTable, StockRow, StockTable
from studio.accounts.roles import EVERYONE, current_user, role_required
from studio.pages.charts import Bar, bars
from studio.pages.tables import list_page, page_of
from studio.preferences.context import current_studio
from studio.preferences.formatting import Formatter
from studio.values.allocation import divide_half_up

PER_PAGE = 60


@require_safe
@role_required(*EVERYONE)
def stock_page(request: HttpRequest) -> HttpResponse:
    today = timezone.localdate()
    filters = StockFilter(request.GET, request=request)
    as_of = filters.value("as_of")
    materials = filters.rows
    page_obj = page_of(request, materials, PER_PAGE)
    marks = {} if as_of else reorder.alert_levels()
    rows = [StockRow(stock, today, level_mark(marks.get(stock.material.pk), stock)) for stock in page_obj]
    context = {
        "page_obj": page_obj,
        "filters": filters,
        "as_of": as_of,
        "materials": len(materials),
        "low": sum(1 for row in materials if row.has_open_alert),
        "worth": sum(row.money for row in materials),
        "may_log": current_user(request).may_write,
    }
    return list_page(request, "stock/list.html", StockTable(rows, request, filters), context)


@require_safe
@role_required(*EVERYONE)
def material(request: HttpRequest, pk: int) -> HttpResponse:
    user, today = current_user(request), timezone.localdate()
    found = get_object_or_404(Material.objects.select_related("recipe"), pk=pk)
    card = material_card(found, on=today, alerts=reorder.alert_levels())
    level = next(iter(reorder.levels(today, materials=[found.pk])), None)
    context = {
        "material": found,
        "title": found.name,
        "card": card,
        "row": StockRow(card.stock, today, level_mark(level.level if level else None, card.stock)),
        "lots": _lot_table(request, card, today),
        "receipts": ReceiptTable(card.receipts[::-1], request),
        "movements": MovementTable(card.movements, request),
        "use": _use(card.use, found, Formatter.of(current_studio(request))),
        "level": level,
        "packs": _packs(request, found),
        "may_edit": user.is_owner,
        "recipe": getattr(found, "recipe", None),
        "recipes": Recipe.objects.filter(versions__parts__material=found).distinct(),
        "may_log": user.may_write and not found.is_free,
        "section": "inventory:stock",
    }
    return render(request, "stock/material.html", context)


def _packs(request: HttpRequest, material: Material) -> PackTable:
    rows = material.supplies.select_related("supplier", "material")
    without = ["material"] if current_user(request).is_owner else ["material", "edit"]
    return PackTable(rows.order_by("-is_preferred", "supplier__name", "pack_size"), request, without=without)


def _lot_table(request: HttpRequest, card: MaterialCard, today: date) -> LotTable:
    lots = Lot.objects.in_bulk([held.lot for held in card.lots])
    measure = card.stock.material.measure
    rows = [LotRow(held, lots[held.lot], measure, today) for held in card.lots]
    totals = {"quantity": (card.stock.quantity, measure), "money": card.stock.money}
    return LotTable(rows, request, totals=totals if len(rows) > 1 else {})


def _use(use: Sequence[MonthUse], found: Material, formatter: Formatter) -> list[Bar]:
    return bars(
        [
            (
                date_format(month.month, "M Y"),
                formatter.short_quantity(month.quantity, found.measure),
                month.quantity,
            )
            for month in use
        ]
    )


def level_mark(reorder_at: int | None, held: MaterialStock) -> int:
    """Where the reorder level stands on the drawn beaker, in percent of its full mark; 0 draws none."""
    if not reorder_at:
        return 0
    if not held.quantity or not held.level:
        return 100 // stock.LEVELS_WHEN_FULL
    return min(100, divide_half_up(reorder_at * held.level, held.quantity * (stock.FULL_MARK // 100)))
