"""Sale pages: the list with its totals, and the same as a file. Selling and returns stand beside it."""

from dataclasses import dataclass
from datetime import date

from django.core.paginator import Paginator
from django.db.models import Q, QuerySet
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import render
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_safe

from costing.pieces.actions.pieces import standing_pieces
from costing.pieces.calculations import SELLABLE
from costing.pricing.models import SalesChannel
from costing.selling.models import Sale
from costing.selling.queries import SaleLine, sale_lines, together
from studio.accounts.roles import EVERYONE, role_required
from studio.pages.exports import Cell, csv_answer, money_cell
from studio.pages.query_values import whole_number
from studio.preferences.context import current_studio

PER_PAGE = 50
COLUMNS = (
    gettext_lazy("sold on"),
    gettext_lazy("piece"),
    gettext_lazy("title"),
    gettext_lazy("channel"),
    gettext_lazy("currency"),
    gettext_lazy("price"),
    gettext_lazy("tax"),
    gettext_lazy("commission"),
    gettext_lazy("card fee"),
    gettext_lazy("fixed fee"),
    gettext_lazy("takings"),
    gettext_lazy("cost"),
    gettext_lazy("profit"),
    gettext_lazy("came back on"),
    gettext_lazy("note"),
    gettext_lazy("posting"),
)


@dataclass(frozen=True, slots=True)
class SaleFilter:
    """What the list was asked to show; anything unreadable is left out."""

    channel: int | None
    month: date | None
    words: str

    @classmethod
    def of(cls, query: QueryDict) -> "SaleFilter":
        return cls(
            whole_number(query.get("channel", "")),
            month_of(query.get("month", "")),
            query.get("words", "").replace("\0", "").strip()[:100],
        )

    def __bool__(self) -> bool:
        return bool(self.channel or self.month or self.words)

    def chosen(self) -> QuerySet[Sale]:
        """The sales that fit, newest first."""
        found = Sale.objects.select_related("piece", "channel")
        if self.channel:
            found = found.filter(channel=self.channel)
        if self.month:
            found = found.filter(sold_on__year=self.month.year, sold_on__month=self.month.month)
        for word in self.words.split():
            found = found.filter(
                Q(piece__title__icontains=word) | Q(note__icontains=word) | Q(channel__name__icontains=word)
            )
        return found.order_by("-sold_on", "-pk")


def month_of(text: str) -> date | None:
    """The first day of a month written as 2026-03, or nothing."""
    try:
        return date.fromisoformat(f"{text}-01") if len(text) == 7 else None
    except ValueError:
        return None


@require_safe
@role_required(*EVERYONE, money=True)
def sales(request: HttpRequest) -> HttpResponse:
    asked = SaleFilter.of(request.GET)
    lines = sale_lines(asked.chosen(), current_studio(request).currency)
    context = {
        "page_obj": Paginator(lines, PER_PAGE).get_page(request.GET.get("page")),
        "total": together(lines),
        "asked": asked,
        "channels": SalesChannel.objects.all(),
        "months": list(Sale.objects.dates("sold_on", "month", order="DESC")),
        "for_sale": standing_pieces().filter(state__in=SELLABLE).count(),
    }
    return render(request, "sales/list.html", context)


@require_safe
@role_required(*EVERYONE, money=True)
def export(request: HttpRequest) -> HttpResponse:
    currency = current_studio(request).currency
    lines = sale_lines(SaleFilter.of(request.GET).chosen(), currency)
    return csv_answer("sales", [str(name) for name in COLUMNS], (_row(line, currency) for line in lines))


def _row(line: SaleLine, currency: str) -> list[Cell]:
    sale = line.sale
    amounts = (
        sale.price,
        sale.tax,
        sale.commission,
        sale.card_fee,
        sale.fixed_fee,
        sale.takings,
        line.cost,
        line.profit,
    )
    return [
        sale.sold_on,
        sale.piece.label,
        sale.piece.title,
        sale.channel.name,
        currency,
        *(money_cell(amount, currency) for amount in amounts),
        sale.returned_on,
        sale.note,
        sale.posting_id,
    ]
