"""The list of market days, one of them with what it came to, and the form it is written by."""

from collections.abc import Sequence
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone, translation
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_safe

from costing.markets.forms import MarketDayForm, hours_text
from costing.markets.models import MarketDay
from costing.markets.queries import (
    MarketRow,
    kinds_of,
    last_count,
    market_days,
    packed_rows,
    result_of,
    results_of,
)
from costing.markets.tables import CashCountTable, KindTable, MarketSaleTable, MarketTable
from costing.pricing.models import SalesChannel
from studio.accounts.roles import EVERYONE, current_user, role_required
from studio.pages.charts import BAR_STEP, Bar, bars
from studio.pages.papers import PaperForm
from studio.pages.reference import DeleteView, EditView
from studio.pages.tables import list_page, page_of
from studio.preferences.context import current_studio
from studio.preferences.formatting import Formatter
from studio.preferences.models import Studio
from studio.translation import _

PER_PAGE = 50
SECTION = "costing:markets"
BARS_DRAWN, BARS_AT_LEAST = 24, 12


@require_safe
@role_required(*EVERYONE)
def markets(request: HttpRequest) -> HttpResponse:
    user, today = current_user(request), timezone.localdate()
    page_obj = page_of(request, market_days(), PER_PAGE)
    rows = results_of(page_obj, today=today)
    held = [row for row in reversed(rows) if not row.is_ahead][-BARS_DRAWN:]
    formatter = Formatter.of(current_studio(request))
    context = {
        "page_obj": page_obj,
        "bars": _bars(held, formatter) if user.sees_money else [],
        "chart_width": BAR_STEP * max(len(held), BARS_AT_LEAST),
        "section": SECTION,
    }
    return list_page(request, "markets/list.html", MarketTable(rows, request), context)


def _bars(rows: Sequence[MarketRow], formatter: Formatter) -> list[Bar]:
    return bars(
        [
            (
                formatter.day(row.market.held_on),
                _(
                    "{takings} taken, profit {profit}",
                    takings=formatter.money(row.result.takings),
                    profit=formatter.money(row.result.profit),
                ),
                row.result.takings,
            )
            for row in rows
        ]
    )


@require_safe
@role_required(*EVERYONE)
def market(request: HttpRequest, pk: int) -> HttpResponse:
    """What was packed and what became of it; for those who see money, what the day came to."""
    row, user, studio = (
        get_object_or_404(market_days(), pk=pk),
        current_user(request),
        current_studio(request),
    )
    found = result_of(row)
    packed = packed_rows(row, found.lines)
    printed = [
        row.name,
        row.place,
        *(text for each in packed for text in (each.piece.title, each.packed.box)),
    ]
    context = {
        "market": row,
        "title": row.name,
        "row": found,
        "packed": packed,
        "missing": [each for each in packed if each.is_missing and not each.is_written_off],
        "left": sum(each.is_left for each in packed),
        "boxes": sorted({each.packed.box for each in packed}),
        "has_begun": row.held_on <= timezone.localdate(),
        "is_over": row.held_on < timezone.localdate(),
        "may_write": user.may_write,
        "paper_form": PaperForm.offered(studio, *printed),
        "report_form": PaperForm.offered(studio, *printed, auto_id="report_%s"),
        "back_url": reverse(SECTION),
        "back_label": _("Market days"),
        "section": SECTION,
        **(_money(request, found) if user.sees_money else {}),
    }
    return render(request, "markets/detail.html", context)


def _money(request: HttpRequest, row: MarketRow) -> dict[str, Any]:
    count, kinds = last_count(row.market), kinds_of(row)
    expected = row.market.till_float + row.cash_taken - (count.paid_out if count else 0)
    return {
        "result": row.result,
        "hours": hours_text(row.market.minutes),
        "shortfall": -(row.result.safety or 0),
        "sales": MarketSaleTable(row.lines, request),
        "kinds": KindTable(kinds, request),
        "count": count,
        "counts": CashCountTable(row.market.cash_counts.select_related("recorded_by"), request),
        "expected": expected,
        "is_count_stale": count is not None and count.expected != expected,
    }


class MarketDayView(EditView):
    model, form_class = MarketDay, MarketDayForm
    edit_name, page_name, list_name, section = "costing:market", "costing:market", SECTION, SECTION
    list_label, add_title = gettext_lazy("Market days"), gettext_lazy("New market day")

    def get_initial(self) -> dict[str, Any]:
        """A new one begins as the last one: the same pitch, trip and channels."""
        return super().get_initial() | ({} if self.object else _as_last_time())


def _as_last_time() -> dict[str, Any]:
    last = MarketDay.objects.first()
    if last is None:
        return _stall_channels()
    copied = (
        "name", "place", "cash_channel", "card_channel", "pitch_fee", "distance", "distance_unit",
        "distance_rate", "travel_sum", "minutes", "till_float",
    )  # fmt: skip
    return {name: getattr(last, name) for name in copied}


def _stall_channels() -> dict[str, Any]:
    """The channels of the starter set, by the names that it gave them in the studio's language."""
    with translation.override(Studio.current().language):
        names = {"cash_channel": _("Market stall, cash"), "card_channel": _("Market stall, card")}
    known = SalesChannel.objects.filter(is_active=True).in_bulk(names.values(), field_name="name")
    return {field: known[name] for field, name in names.items() if name in known}


class MarketDayDelete(DeleteView):
    model = MarketDay
    edit_name, list_name, section = "costing:market", SECTION, SECTION
    note = gettext_lazy(
        "A market day whose cash was counted stays. The sales of a deleted one stay as they are."
    )
