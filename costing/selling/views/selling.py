"""Selling a piece, taking one back, and refunding a part of what was paid."""

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from costing.markets.models import MarketDay
from costing.pieces.calculations import ENDS, SELLABLE, State
from costing.pieces.models import Piece
from costing.pieces.queries import standing_pieces, with_parts
from costing.pieces.views.piece import piece_or_404
from costing.pricing.queries import price_advice
from costing.selling.actions import PieceSold, refund_line, return_line, sell_together, undo_return
from costing.selling.actions.returns_undone import obstacle_to_undoing
from costing.selling.actions.sales import MOST_TOGETHER
from costing.selling.forms.sales import (
    RefundForm,
    ReturnForm,
    SaleForm,
    SellForm,
    SeveralForm,
    UndoReturnForm,
    sold_pieces,
)
from costing.selling.models import Sale, SaleLine
from costing.selling.queries import below_cost, refunded_so_far
from studio.accounts.roles import WORKERS, current_user, role_required
from studio.pages.saving import form_status, saved, submission_from
from studio.preferences.context import current_studio
from studio.preferences.formatting import Formatter
from studio.translation import _, quoted
from studio.values.money import minor_units
from studio.values.numbers import read_small_whole


@require_http_methods(["GET", "POST"])
@role_required(*WORKERS)
def sell_piece(request: HttpRequest, pk: int) -> HttpResponse:
    piece, sees_money = piece_or_404(pk), current_user(request).sees_money
    form = SellForm(
        request.POST or None,
        studio=current_studio(request),
        may_add=current_user(request).is_owner,
        initial={
            "price": piece.price,
            "channel": read_small_whole(request.GET.get("channel", "")),
            "commission": read_small_whole(request.GET.get("commission", "")),
        },
    )
    sale = saved(form, lambda: record_sale(request, form, form.lines(piece)))
    if sale:
        return sold(request, sale)
    may_advise = sees_money and piece.state not in ENDS
    context = {
        "piece": piece,
        "form": form,
        "words": State(piece.state).words,
        "section": "costing:pieces",
        "advice": price_advice(piece, on=timezone.localdate()) if may_advise else None,
        "is_sellable": piece.state in SELLABLE,
        "has_channels": form.fields["channel"].queryset.exists(),  # type: ignore[attr-defined]
    }
    return render(request, "sales/sell.html", context, status=form_status(form))


@require_http_methods(["GET", "POST"])
@role_required(*WORKERS)
def sell_pieces(request: HttpRequest) -> HttpResponse:
    """Choose pieces, then their prices: the choice stands in the address, so that going back keeps it."""
    numbers = {number for text in request.GET.getlist("piece") if (number := read_small_whole(text))}
    offered = list(with_parts(standing_pieces().filter(state__in=SELLABLE)).order_by("title", "pk"))
    # A piece that was sold while the page was open stays in its row, so that the refusal can name it.
    chosen = list(with_parts(Piece.objects.filter(pk__in=numbers)).order_by("title", "pk"))[:MOST_TOGETHER]
    studio = current_studio(request)
    commission = read_small_whole(request.GET.get("commission", ""))
    form = SeveralForm(
        request.POST or None,
        studio=studio,
        may_add=current_user(request).is_owner,
        initial={"commission": commission},
    )
    rows = sold_pieces(request.POST or None, studio=studio, pieces=chosen)

    def record() -> Sale:
        lines = [row.sold for row in rows.forms]
        return record_sale(request, form, lines, discount=form.cleaned_data["discount"] or 0)

    sale = saved(form, record, lines=rows) if chosen else None
    if sale:
        return sold(request, sale)
    formatter = Formatter.of(studio)
    channels = form.fields["channel"].queryset[:2]  # type: ignore[attr-defined]
    if len(channels) == 1:  # no choice to make
        form.initial["channel"] = channels[0].pk
    context = {
        "form": form,
        "rows": rows,
        "chosen": {piece.pk for piece in chosen},
        "offered": offered,
        "commission": commission,
        "has_channels": bool(channels),
        "market": MarketDay.objects.filter(held_on=timezone.localdate()).first(),
        "places": minor_units(studio.currency),
        "decimal_comma": formatter.decimal_comma,
        "money_sample": formatter.money(1_000_000_000),
        "section": "costing:sales",
    }
    return render(request, "sales/new.html", context, status=form_status(form))


@require_http_methods(["GET", "POST"])
@role_required(*WORKERS)
def sale_return(request: HttpRequest, pk: int) -> HttpResponse:
    line = _line_or_404(pk)
    left = line.paid - refunded_so_far(line).amount
    form = ReturnForm(
        request.POST or None,
        studio=current_studio(request),
        sees_money=current_user(request).sees_money,
        initial={"amount": left, "fees": line.commission},
    )
    done = _("“{title}” was returned.", title=line.piece.title)
    return _giving_back(request, line, form, return_line, "sales/return.html", done)


@require_http_methods(["GET", "POST"])
@role_required(*WORKERS)
def sale_refund(request: HttpRequest, pk: int) -> HttpResponse:
    line = _line_or_404(pk)
    form = RefundForm(
        request.POST or None, studio=current_studio(request), sees_money=current_user(request).sees_money
    )
    done = _("The refund for “{title}” is recorded.", title=line.piece.title)
    return _giving_back(request, line, form, refund_line, "sales/refund.html", done)


@require_http_methods(["GET", "POST"])
@role_required(*WORKERS)
def sale_return_undo(request: HttpRequest, pk: int) -> HttpResponse:
    """Undo a return that was recorded by mistake: by one touch from the sale's page, or here with a reason."""
    line = _line_or_404(pk)
    form = UndoReturnForm(request.POST if request.method == "POST" else None, studio=current_studio(request))

    def record() -> Sale:
        submission = submission_from(request, key=form.cleaned_data["key"])
        return undo_return(line=line, note=form.cleaned_data["note"], submission=submission)

    sale = saved(form, record)
    if sale is not None:
        message = _(
            "The return of “{title}” is undone by sale {number}.", title=line.piece.title, number=sale.pk
        )
        messages.success(request, message)
        return redirect("costing:sale", pk=sale.pk)
    context = {
        "line": line,
        "sale": line.sale,
        "piece": line.piece,
        "form": form,
        "obstacle": obstacle_to_undoing(line),
        "refund": line.refunds.exclude(condition="").first(),
        "section": "costing:sales",
    }
    return render(request, "sales/undo_return.html", context, status=form_status(form))


def record_sale(request: HttpRequest, form: SaleForm, lines: list[PieceSold], **facts: Any) -> Sale:
    """Sell what a valid form says."""
    data = form.cleaned_data
    submission = submission_from(request, on=data["on"], key=data["key"], confirmed=form.confirmations)
    return form.saving_channel_first(
        lambda: sell_together(
            lines=lines, channel=data["channel"], facts=form.sale_facts(**facts), submission=submission
        ),
        submission,
    )


def sold(request: HttpRequest, sale: Sale) -> HttpResponse:
    """Say that a sale is recorded, and to those who see money which of its pieces went below cost."""
    titles = [line.piece.title for line in sale.lines.select_related("piece")]
    words = {"titles": ", ".join(quoted(title) for title in titles), "channel": sale.channel.name}
    messages.success(request, _("Sold: {titles} ({channel}).", **words))
    if current_user(request).sees_money and (low := below_cost(sale, current_studio(request).currency)):
        titles = [each.piece.title for each in low]
        message = _("Sold below cost: {titles}.", titles=", ".join(quoted(title) for title in titles))
        messages.warning(request, message)
    return redirect("costing:sale", pk=sale.pk)


def _giving_back(
    request: HttpRequest,
    line: SaleLine,
    form: RefundForm,
    act: Callable[..., object],
    template: str,
    done: str,
) -> HttpResponse:
    def record() -> object:
        data = form.cleaned_data
        submission = submission_from(request, on=data["on"], key=data["key"])
        return act(line=line, facts=form.facts, submission=submission)

    if saved(form, record):
        messages.success(request, done)
        return redirect("costing:sale", pk=line.sale_id)
    context = {"line": line, "sale": line.sale, "piece": line.piece, "form": form, "section": "costing:sales"}
    return render(request, template, context, status=form_status(form))


def _line_or_404(pk: int) -> SaleLine:
    return get_object_or_404(SaleLine.objects.select_related("sale__channel", "piece", "posting"), pk=pk)
