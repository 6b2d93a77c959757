"""Counting the cash after a market day."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from costing.markets.actions.counting import count_cash
from costing.markets.forms import CashCountForm
from costing.markets.queries import last_count, market_days, result_of
from costing.markets.views.days import SECTION
from studio.accounts.roles import WORKERS, role_required
from studio.pages.saving import form_page, saved, submission_from
from studio.preferences.context import current_studio
from studio.preferences.formatting import Formatter
from studio.translation import _


@require_http_methods(["GET", "POST"])
@role_required(*WORKERS, money=True)
def cash(request: HttpRequest, pk: int) -> HttpResponse:
    """What was counted is kept beside what was expected."""
    market, studio = get_object_or_404(market_days(), pk=pk), current_studio(request)
    earlier = last_count(market)
    form = CashCountForm(
        request.POST or None, studio=studio, initial={"paid_out": earlier.paid_out if earlier else 0}
    )
    formatter = Formatter.of(studio)

    def count() -> object:
        facts = dict(form.cleaned_data)
        return count_cash(market=market, submission=submission_from(request, key=facts.pop("key")), **facts)

    if saved(form, count):
        messages.success(request, _("The cash count has been saved."))
        return redirect("costing:market", pk=pk)
    taken = result_of(market).cash_taken
    return form_page(
        request,
        form,
        title=_("Count the cash: {market}", market=market.name),
        lead=_(
            "The float of {float} and cash sales of {cash} make {both}, less what was paid out.",
            float=formatter.money(market.till_float),
            cash=formatter.money(taken),
            both=formatter.money(market.till_float + taken),
        ),
        back_url=reverse("costing:market", args=[pk]),
        back_label=market.name,
        section=SECTION,
    )
