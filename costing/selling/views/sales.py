"""The list of sales, and one sale with its pieces."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from costing.pieces.calculations import SELLABLE
from costing.pieces.queries import standing_pieces
from costing.pricing.models import ChannelTerms
from costing.selling.actions import return_sale
from costing.selling.actions.returns_undone import obstacle_to_undoing
from costing.selling.documents import CREDIT_NOTE, RECEIPT
from costing.selling.filters import SaleFilter
from costing.selling.models import Sale, SaleLine
from costing.selling.queries import SaleFigures, sale_figures, total_of_sales, with_lines
from costing.selling.receipts import receipt_title
from costing.selling.tables import SaleLineTable, SaleTable
from inventory.ledger.undo import minutes_left
from inventory.ledger.views.undo import undo_button
from studio.accounts.roles import EVERYONE, WORKERS, current_user, role_required
from studio.issued.queries import issued_state
from studio.pages.forms import KeyedForm
from studio.pages.papers import SmallPaperForm
from studio.pages.saving import acted, submission_from
from studio.pages.tables import list_page, page_of
from studio.preferences.context import current_studio
from studio.translation import _

PER_PAGE = 50


@require_safe
@role_required(*EVERYONE)
def sales(request: HttpRequest) -> HttpResponse:
    filters = SaleFilter(request.GET, with_lines(Sale.objects.all()), request=request)
    figures = sale_figures(filters.qs, current_studio(request).currency)
    page_obj, total = page_of(request, figures, PER_PAGE), total_of_sales(figures)
    table = SaleTable(
        page_obj,
        request,
        filters,
        totals={} if page_obj.has_other_pages() else total.by_column,
        without=() if total.tax else ("tax",),
    )
    context = {
        "page_obj": page_obj,
        "filters": filters,
        "total": total,
        "has_monthly_fees": ChannelTerms.objects.filter(monthly_fee__gt=0).exists(),
        "for_sale": standing_pieces().filter(state__in=SELLABLE).count(),
        "back_url": reverse("costing:pieces"),
        "back_label": _("Pieces"),
    }
    return list_page(request, "sales/list.html", table, context)


@require_safe
@role_required(*EVERYONE)
def sale(request: HttpRequest, pk: int) -> HttpResponse:
    row = get_object_or_404(
        with_lines(Sale.objects.select_related("recorded_by", "buyer", "commission")), pk=pk
    )
    [figures] = sale_figures([row], current_studio(request).currency)
    return render(request, "sales/sale.html", _context(request, figures))


def _context(request: HttpRequest, figures: SaleFigures) -> dict[str, Any]:
    total, user, studio = figures.total, current_user(request), current_studio(request)
    table = SaleLineTable(
        figures.lines, request, totals=total.by_column, without=() if total.tax else ("tax",)
    )
    moment = figures.lines[0].line.posting.recorded_at
    minutes = minutes_left(moment, at=timezone.now())
    undo = reverse("costing:sale-undo", args=[figures.sale.pk])
    # Undoing a correction would leave neither sale: a correction is corrected.
    may_undo = user.may_write and not figures.returned and figures.sale.corrects_id is None
    undoable = [
        each.line
        for each, refund in figures.refunds
        if refund.condition and user.may_write and not obstacle_to_undoing(each.line)
    ]
    return {
        "sale": figures.sale,
        "figures": figures,
        "total": total,
        "table": table,
        "undo": undo_button(undo, minutes, what=_("Sale")) if may_undo else _undo_of_return(undoable),
        "undoable": undoable,
        "may_correct": user.may_write and not figures.returned and not figures.refunds,
        "refunds": figures.refunds,
        "paper_form": SmallPaperForm.offered(
            studio,
            *(each.piece.title for each in figures.lines),
            figures.sale.buyer.name if figures.sale.buyer else "",
        ),
        "receipt_title": receipt_title(figures.sale),
        "issued": issued_state(RECEIPT.code, figures.sale.pk, user),
        "issued_notes": [
            issued_state(CREDIT_NOTE.code, refund.pk, user) for _each, refund in figures.refunds
        ],
        "back_url": reverse("costing:sales"),
        "back_label": _("Sales"),
        "section": "costing:sales",
    }


def _undo_of_return(undoable: list[SaleLine]) -> dict[str, Any] | None:
    """The button that undoes the last return of a sale while it is fresh."""
    for line in sorted(undoable, key=lambda each: each.posting.reversed_by.recorded_at, reverse=True)[:1]:
        minutes = minutes_left(line.posting.reversed_by.recorded_at, at=timezone.now())
        address = reverse("costing:sale-return-undo", args=[line.pk])
        return undo_button(address, minutes, what=_("Return: {title}", title=line.piece.title))
    return None


@require_POST
@role_required(*WORKERS)
def sale_undo(request: HttpRequest, pk: int) -> HttpResponse:
    """Undo a sale within the hour; afterwards a return is recorded for each piece."""
    sale = get_object_or_404(Sale.objects.prefetch_related("lines__posting"), pk=pk)
    form = KeyedForm(request.POST, studio=current_studio(request))
    kept = [line for line in sale.lines.all() if line.returned_on is None]
    if kept and not all(minutes_left(line.posting.recorded_at, at=timezone.now()) for line in kept):
        messages.warning(
            request, _("More than an hour has passed. Correct the sale or record a return here.")
        )
    elif not form.is_valid():
        messages.error(request, _("Reload the page and try again."))
    else:
        submission = submission_from(request, on=sale.sold_on, key=form.cleaned_data["key"])
        done = _("The sale has been undone.")
        acted(request, lambda: return_sale(sale=sale, is_undone=True, submission=submission), done)
    return redirect("costing:sale", pk=pk)
