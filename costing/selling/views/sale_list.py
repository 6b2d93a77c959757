"""The list of sales with its totals. Selling and returns stand beside it."""

from django.http import HttpRequest, HttpResponse
from django.views.decorators.http import require_safe

from costing.pieces.actions.pieces import standing_pieces
from costing.pieces.calculations import SELLABLE
from costing.selling.filters import SaleFilter
from costing.selling.models import Sale
from costing.selling.queries import Takings, sale_lines, together
from costing.selling.tables import SaleTable
from studio.accounts.roles import EVERYONE, role_required
from studio.pages.tables import list_page, page_of
from studio.preferences.context import current_studio

PER_PAGE = 50


@require_safe
@role_required(*EVERYONE, money=True)
def sales(request: HttpRequest) -> HttpResponse:
    filters = SaleFilter(request.GET, Sale.objects.select_related("piece", "channel"), request=request)
    lines = sale_lines(filters.qs, current_studio(request).currency)
    page_obj = page_of(request, lines, PER_PAGE)
    total = together(lines)
    table = SaleTable(
        page_obj,
        request,
        filters,
        totals={} if page_obj.has_other_pages() else _totals(total),
        without=() if total.tax else ("tax",),
    )
    context = {
        "page_obj": page_obj,
        "filters": filters,
        "total": total,
        "for_sale": standing_pieces().filter(state__in=SELLABLE).count(),
    }
    return list_page(request, "sales/list.html", table, context)


def _totals(total: Takings) -> dict[str, int]:
    return {
        "price": total.prices,
        "tax": total.tax,
        "fees": total.fees,
        "proceeds": total.net_proceeds,
        "cost": total.cost,
        "profit": total.profit,
    }
