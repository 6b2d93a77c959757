"""What stands on the shelf: the list of materials, and everything known of one material."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.utils.dateformat import format as date_format
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_safe

from inventory.ledger.models import Lot
from inventory.ledger.queries import MonthUse, material_card
from inventory.ledger.views.posting_list import day_of
from inventory.materials.models import Kind, Material
from inventory.reordering import queries as reorder
from inventory.reordering.models import Alert
from inventory.stock import queries as stock
from inventory.stock.queries import MaterialStock
from studio.accounts.roles import EVERYONE, current_user, role_required
from studio.pages.charts import Bar, bars
from studio.preferences.context import current_studio
from studio.preferences.formatting import Formatter
from studio.values.allocation import divide_half_up

PER_PAGE = 60
DAYS_AHEAD = 30
MONEY_ORDERS = {"money"}
SHOWN_ONLY = {
    "low": gettext_lazy("Low"),
    "going-off": gettext_lazy("Going off"),
    "archived": gettext_lazy("Archived as well"),
}


@dataclass(frozen=True, slots=True)
class StockFilter:
    """What the list was asked to show; anything unreadable is left out."""

    words: str
    kind: str
    only: str
    as_of: date | None
    sort: str

    @classmethod
    def of(cls, query: QueryDict, *, sees_money: bool) -> "StockFilter":
        kind, only, sort = query.get("kind", ""), query.get("only", ""), query.get("sort", "name")
        column = sort.removeprefix("-")
        known = column in stock.ORDERS and (sees_money or column not in MONEY_ORDERS)
        return cls(
            query.get("words", "").strip()[:100],
            kind if kind in Kind.values else "",
            only if only in SHOWN_ONLY else "",
            day_of(query.get("as_of", "")),
            sort if known else "name",
        )

    def __bool__(self) -> bool:
        return bool(self.words or self.kind or self.only or self.as_of)

    def chosen(self, today: date) -> list[MaterialStock]:
        """The materials that fit, in the order asked for."""
        return stock.stock_list(
            search=self.words,
            kind=self.kind,
            low_only=self.only == "low",
            include_archived=self.only == "archived",
            going_off_by=today + timedelta(days=DAYS_AHEAD) if self.only == "going-off" else None,
            as_of=self.as_of,
            order=self.sort,
        )


@dataclass(frozen=True, slots=True)
class ShownStock:
    """One line of the list, its figures written out once here because a page has many of them."""

    row: MaterialStock
    kind: str
    held: str
    coming: str
    worth: str
    unit_cost: str
    use_by: str
    is_past: bool
    percent: int
    mark: int


@require_safe
@role_required(*EVERYONE)
def stock_page(request: HttpRequest) -> HttpResponse:
    user, today = current_user(request), timezone.localdate()
    asked = StockFilter.of(request.GET, sees_money=user.sees_money)
    rows = asked.chosen(today)
    page_obj = Paginator(rows, PER_PAGE).get_page(request.GET.get("page"))
    formatter = Formatter.of(current_studio(request))
    marks = {} if asked.as_of else alert_levels()
    context = {
        "page_obj": page_obj,
        "rows": [shown_stock(row, formatter, today, marks.get(row.material.pk)) for row in page_obj],
        "asked": asked,
        "sort": asked.sort,
        "kinds": Kind.choices,
        "only": SHOWN_ONLY,
        "materials": len(rows),
        "low": sum(1 for row in rows if row.has_open_alert),
        "worth": sum(row.money for row in rows),
        "may_log": user.may_write,
    }
    return render(request, "stock/list.html", context)


def alert_levels() -> dict[int, int]:
    """The reorder level of everything that is low, by material."""
    return dict(Alert.objects.filter(cleared_at__isnull=True).values_list("material_id", "level"))


def shown_stock(
    row: MaterialStock, formatter: Formatter, today: date, reorder_at: int | None = None
) -> ShownStock:
    """Write one material's figures out; with a reorder level, say where it stands on the drawn beaker."""
    measure = row.material.measure
    return ShownStock(
        row=row,
        kind=str(Kind(row.material.kind).label),
        held=formatter.short_quantity(row.quantity, measure),
        coming=formatter.short_quantity(row.on_order, measure) if row.on_order else "",
        worth=formatter.money(row.money),
        unit_cost=formatter.unit_cost(row.money, row.quantity, measure),
        use_by=formatter.day(row.use_by),
        is_past=row.use_by is not None and row.use_by < today,
        percent=divide_half_up(row.level, 10_000),
        mark=_mark(reorder_at or 0, row),
    )


@require_safe
@role_required(*EVERYONE)
def material(request: HttpRequest, pk: int) -> HttpResponse:
    user, today, formatter = (
        current_user(request),
        timezone.localdate(),
        Formatter.of(current_studio(request)),
    )
    found = get_object_or_404(Material.objects.select_related("recipe"), pk=pk)
    card = material_card(found, on=today)
    level = next(iter(reorder.levels(today, materials=[found.pk])), None)
    lots = Lot.objects.in_bulk([held.lot for held in card.lots])
    context = {
        "material": found,
        "title": found.name,
        "card": card,
        "shown_stock": shown_stock(card.stock, formatter, today, level.level if level else None),
        "lots": [(held, lots[held.lot]) for held in card.lots],
        "use": _use(card.use, found, formatter),
        "level": level,
        "supplies": reorder.supplies_of([found.pk]).get(found.pk, []),
        "recipe": getattr(found, "recipe", None),
        "today": today,
        "may_log": user.may_write and not found.is_free,
        "section": "inventory:stock",
    }
    return render(request, "stock/material.html", context)


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


def _mark(reorder_at: int, held: MaterialStock) -> int:
    """Where the reorder level stands on the drawn beaker, in percent of its full mark; 0 draws none."""
    if not reorder_at:
        return 0
    if not held.quantity or not held.level:
        return 100 // stock.LEVELS_WHEN_FULL
    return min(100, divide_half_up(reorder_at * held.level, held.quantity * (stock.FULL_MARK // 100)))
