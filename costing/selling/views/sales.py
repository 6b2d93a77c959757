"""Selling a piece, and taking a sale back."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from costing.pieces.calculations import ENDS, SELLABLE, State
from costing.pieces.models import Piece
from costing.pieces.views.piece import piece_or_404
from costing.pricing.queries import price_advice
from costing.selling.actions.sales import sell, take_back
from costing.selling.forms import BackForm, SellForm
from costing.selling.models import Sale
from inventory.ledger.views.undo import is_in_time
from studio.accounts.roles import WORKERS, role_required
from studio.errors import MeniscusError
from studio.pages.forms import KeyedForm
from studio.pages.query_values import whole_number
from studio.pages.submissions import submission_from
from studio.preferences.context import current_studio
from studio.translation import _


@require_http_methods(["GET", "POST"])
@role_required(*WORKERS, money=True)
def sell_piece(request: HttpRequest, pk: int) -> HttpResponse:
    found = piece_or_404(pk)
    form = SellForm(
        request.POST if request.method == "POST" else None,
        studio=current_studio(request),
        initial={
            "on": timezone.localdate(),
            "price": found.price,
            "channel": whole_number(request.GET.get("channel", "")),
        },
    )
    if form.is_bound and form.is_valid():
        said = form.cleaned_data
        try:
            sale = sell(
                piece=found,
                channel=said["channel"],
                price=said["price"],
                note=said["note"],
                submission=submission_from(request, on=said["on"], key=said["key"]),
            )
        except MeniscusError as problem:
            form.refuse(problem)
        else:
            messages.success(
                request, _("“{title}” sold ({channel}).", title=found.title, channel=sale.channel.name)
            )
            return redirect("costing:piece", pk=pk)
    return _sell_page(request, found, form)


def _sell_page(request: HttpRequest, found: Piece, form: SellForm) -> HttpResponse:
    context: dict[str, Any] = {
        "piece": found,
        "form": form,
        "advice": price_advice(found) if found.state not in ENDS else None,
        "is_sellable": found.state in SELLABLE,
        "words": State(found.state).words,
        "has_channels": form.fields["channel"].queryset.exists(),  # type: ignore[attr-defined]
        "section": "costing:pieces",
    }
    return render(request, "sales/sell.html", context, status=422 if form.is_bound else 200)


@require_http_methods(["GET", "POST"])
@role_required(*WORKERS, money=True)
def sale_return(request: HttpRequest, pk: int) -> HttpResponse:
    sale = get_object_or_404(Sale.objects.select_related("piece", "channel", "posting"), pk=pk)
    form = BackForm(
        request.POST if request.method == "POST" else None,
        studio=current_studio(request),
        initial={"on": timezone.localdate()},
    )
    if form.is_bound and form.is_valid():
        said = form.cleaned_data
        try:
            take_back(
                sale=sale,
                note=said["note"],
                submission=submission_from(request, on=said["on"], key=said["key"]),
            )
        except MeniscusError as problem:
            form.refuse(problem)
        else:
            messages.success(
                request,
                _("“{title}” was returned and is for sale again, at its own cost.", title=sale.piece.title),
            )
            return redirect("costing:piece", pk=sale.piece_id)
    context = {"sale": sale, "piece": sale.piece, "form": form, "section": "costing:pieces"}
    return render(request, "sales/return.html", context, status=422 if form.is_bound else 200)


@require_POST
@role_required(*WORKERS, money=True)
def sale_undo(request: HttpRequest, pk: int) -> HttpResponse:
    """Take back with one touch what was sold within the hour; afterwards the return is recorded on its own page."""
    sale = get_object_or_404(Sale.objects.select_related("piece", "posting"), pk=pk)
    form = KeyedForm(request.POST, studio=current_studio(request))
    if sale.returned_on is None and not is_in_time(sale.posting.recorded_at):
        messages.warning(request, _("More than an hour has passed. Record a return here."))
        return redirect("costing:sale-return", pk=pk)
    if not form.is_valid():
        messages.error(request, _("Reload the page and try again."))
        return redirect("costing:piece", pk=sale.piece_id)
    try:
        take_back(
            sale=sale, submission=submission_from(request, on=sale.sold_on, key=form.cleaned_data["key"])
        )
    except MeniscusError as problem:
        messages.error(request, str(problem))
    else:
        messages.success(request, _("The sale of “{title}” has been undone.", title=sale.piece.title))
    return redirect("costing:piece", pk=sale.piece_id)
