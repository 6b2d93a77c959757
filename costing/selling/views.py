"""Selling a piece and recording its return; other disposals, and bringing one back; the list of sales."""

from collections.abc import Callable, Mapping
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from costing.pieces.calculations import ENDS, SELLABLE, State
from costing.pieces.models import Piece
from costing.pieces.queries import standing_pieces
from costing.pieces.views.piece import piece_or_404, recorded
from costing.pricing.queries import price_advice
from costing.selling.actions import (
    bring_back_piece,
    give_away,
    return_sale,
    scrape_piece,
    sell,
    write_off_piece,
)
from costing.selling.filters import SaleFilter
from costing.selling.forms import (
    BringBackForm,
    DatedForm,
    DisposalForm,
    GiveForm,
    ReturnForm,
    ScrapeForm,
    SellForm,
    WriteOffForm,
)
from costing.selling.models import Sale
from costing.selling.queries import sale_lines, total_of
from costing.selling.tables import SaleTable
from inventory.ledger.views.undo import is_in_time
from studio.accounts.roles import EVERYONE, WORKERS, role_required
from studio.pages.forms import KeyedForm
from studio.pages.saving import acted, form_status, saved, submission_from
from studio.pages.tables import list_page, page_of
from studio.preferences.context import current_studio
from studio.translation import _
from studio.values.numbers import read_small_whole

PER_PAGE = 50


@require_safe
@role_required(*EVERYONE, money=True)
def sales(request: HttpRequest) -> HttpResponse:
    rows = Sale.objects.select_related("piece", "channel").prefetch_related("piece__parts__pour")
    filters = SaleFilter(request.GET, rows, request=request)
    lines = sale_lines(filters.qs, current_studio(request).currency)
    page_obj, total = page_of(request, lines, PER_PAGE), total_of(lines)
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
        "for_sale": standing_pieces().filter(state__in=SELLABLE).count(),
        "back_url": reverse("costing:pieces"),
        "back_label": _("Pieces"),
    }
    return list_page(request, "sales/list.html", table, context)


@require_http_methods(["GET", "POST"])
@role_required(*WORKERS, money=True)
def sell_piece(request: HttpRequest, pk: int) -> HttpResponse:
    piece = piece_or_404(pk)
    form = SellForm(
        request.POST or None,
        studio=current_studio(request),
        initial={"price": piece.price, "channel": read_small_whole(request.GET.get("channel", ""))},
    )
    sale = saved(form, lambda: sell(piece=piece, **recorded(request, form)))
    if sale:
        messages.success(
            request, _("“{title}” sold ({channel}).", title=piece.title, channel=sale.channel.name)
        )
        return redirect("costing:piece", pk=pk)
    context = {
        "advice": price_advice(piece, on=timezone.localdate()) if piece.state not in ENDS else None,
        "is_sellable": piece.state in SELLABLE,
        "has_channels": form.fields["channel"].queryset.exists(),  # type: ignore[attr-defined]
    }
    return _page(request, piece, form, "sales/sell.html", context)


@require_http_methods(["GET", "POST"])
@role_required(*WORKERS, money=True)
def sale_return(request: HttpRequest, pk: int) -> HttpResponse:
    sale = get_object_or_404(Sale.objects.select_related("piece", "channel", "posting"), pk=pk)
    form = ReturnForm(request.POST or None, studio=current_studio(request))
    if saved(form, lambda: return_sale(sale=sale, **recorded(request, form))):
        messages.success(
            request,
            _("“{title}” was returned and is for sale again, at its own cost.", title=sale.piece.title),
        )
        return redirect("costing:piece", pk=sale.piece_id)
    return _page(request, sale.piece, form, "sales/return.html", {"sale": sale})


@require_POST
@role_required(*WORKERS, money=True)
def sale_undo(request: HttpRequest, pk: int) -> HttpResponse:
    """Undo a sale within the hour; afterwards the return is recorded on its own page."""
    sale = get_object_or_404(Sale.objects.select_related("piece", "posting"), pk=pk)
    form = KeyedForm(request.POST, studio=current_studio(request))
    if sale.returned_on is None and not is_in_time(sale.posting.recorded_at):
        messages.warning(request, _("More than an hour has passed. Record a return here."))
        return redirect("costing:sale-return", pk=pk)
    if not form.is_valid():
        messages.error(request, _("Reload the page and try again."))
        return redirect("costing:piece", pk=sale.piece_id)
    submission = submission_from(request, on=sale.sold_on, key=form.cleaned_data["key"])
    done = _("The sale of “{title}” has been undone.", title=sale.piece.title)
    acted(request, lambda: return_sale(sale=sale, submission=submission), done)
    return redirect("costing:piece", pk=sale.piece_id)


@require_http_methods(["GET", "POST"])
@role_required(*WORKERS, money=True)
def give(request: HttpRequest, pk: int) -> HttpResponse:
    return _disposal(request, pk, GiveForm, give_away)


@require_http_methods(["GET", "POST"])
@role_required(*WORKERS)
def write_off(request: HttpRequest, pk: int) -> HttpResponse:
    return _disposal(request, pk, WriteOffForm, write_off_piece)


@require_http_methods(["GET", "POST"])
@role_required(*WORKERS)
def scrape(request: HttpRequest, pk: int) -> HttpResponse:
    return _disposal(request, pk, ScrapeForm, scrape_piece)


@require_http_methods(["GET", "POST"])
@role_required(*WORKERS)
def bring_back(request: HttpRequest, pk: int) -> HttpResponse:
    return _disposal(request, pk, BringBackForm, bring_back_piece)


def _disposal(
    request: HttpRequest, pk: int, form_class: type[DisposalForm], action: Callable[..., Piece]
) -> HttpResponse:
    piece = piece_or_404(pk)
    form = form_class(
        request.POST or None, studio=current_studio(request), initial={"market_value": piece.price}
    )
    if not saved(form, lambda: action(piece=piece, **recorded(request, form))):
        return _page(request, piece, form, "pieces/disposal.html")
    state = State(piece.state).words
    messages.success(request, str(form.done).format(title=piece.title, state=state))
    return redirect("costing:piece", pk=pk)


def _page(
    request: HttpRequest, piece: Piece, form: DatedForm, template: str, context: Mapping[str, Any] = {}
) -> HttpResponse:
    words = State(piece.state).words
    context = {"piece": piece, "form": form, "words": words, "section": "costing:pieces", **context}
    return render(request, template, context, status=form_status(form))
