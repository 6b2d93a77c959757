"""Selling a piece, and taking a sale back."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import URLPattern, path
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from costing.forms.selling import BackForm, SellForm
from costing.models import Piece, Sale
from costing.prices import price_advice
from costing.sales import sell, take_back
from costing.states import ENDS, SELLABLE, State
from costing.views.piece import piece_or_404
from inventory.views.delivery_list import whole_number
from studio.context import current
from studio.errors import MeniscusError
from studio.roles import WORKERS, page, signed_in


@require_http_methods(["GET", "POST"])
@page(*WORKERS, money=True)
def sell_piece(request: HttpRequest, pk: int) -> HttpResponse:
    found = piece_or_404(pk)
    form = SellForm(
        request.POST if request.method == "POST" else None,
        studio=current(request),
        initial={
            "on": timezone.localdate(),
            "price": found.price,
            "route": whole_number(request.GET.get("route", "")),
        },
    )
    if form.is_bound and form.is_valid():
        said = form.cleaned_data
        try:
            sale = sell(
                piece=found, route=said["route"], price=said["price"], on=said["on"], by=signed_in(request),
                at=timezone.now(), note=said["note"], key=said["key"],
            )  # fmt: skip
        except MeniscusError as problem:
            form.refuse(problem)
        else:
            messages.success(request, f"“{found.title}” is sold by {sale.route.name}.")
            return redirect("costing:piece", pk=pk)
    return _sell_page(request, found, form)


def _sell_page(request: HttpRequest, found: Piece, form: SellForm) -> HttpResponse:
    context: dict[str, Any] = {
        "piece": found,
        "form": form,
        "advice": price_advice(found) if found.state not in ENDS else None,
        "is_sellable": found.state in SELLABLE,
        "words": State(found.state).words,
        "has_routes": form.fields["route"].queryset.exists(),  # type: ignore[attr-defined]
        "section": "costing:pieces",
    }
    return render(request, "costing/sale/sell.html", context, status=422 if form.is_bound else 200)


@require_http_methods(["GET", "POST"])
@page(*WORKERS, money=True)
def sale_return(request: HttpRequest, pk: int) -> HttpResponse:
    sale = get_object_or_404(Sale.objects.select_related("piece", "route", "posting"), pk=pk)
    form = BackForm(
        request.POST if request.method == "POST" else None,
        studio=current(request),
        initial={"on": timezone.localdate()},
    )
    if form.is_bound and form.is_valid():
        said = form.cleaned_data
        try:
            take_back(
                sale=sale, on=said["on"], by=signed_in(request), at=timezone.now(), note=said["note"], key=said["key"]
            )  # fmt: skip
        except MeniscusError as problem:
            form.refuse(problem)
        else:
            messages.success(
                request, f"“{sale.piece.title}” came back and is for sale again, at its own cost."
            )
            return redirect("costing:piece", pk=sale.piece_id)
    context = {"sale": sale, "piece": sale.piece, "form": form, "section": "costing:pieces"}
    return render(request, "costing/sale/return.html", context, status=422 if form.is_bound else 200)


urlpatterns: list[URLPattern] = [
    path("pieces/<int:pk>/sell/", sell_piece, name="sell"),
    path("sales/<int:pk>/return/", sale_return, name="sale-return"),
]
