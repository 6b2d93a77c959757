"""Which pack of a material to buy, and what another one would cost; and the orders that the list becomes."""

from dataclasses import replace
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from inventory.materials.models import Material
from inventory.shopping.actions import choose, leave_to_the_list, order_from_list
from inventory.shopping.calculations.purchases import Offer
from inventory.shopping.forms import ChoiceForm, OrderFromListForm
from inventory.shopping.queries import Alternative, ShoppingList, alternatives, shopping_list
from inventory.shopping.views.listing import SECTION
from studio.accounts.roles import WORKERS, role_required
from studio.errors import MeniscusError
from studio.pages.saving import form_status, saved, submission_from
from studio.preferences.context import current_studio
from studio.preferences.formatting import Formatter
from studio.translation import _, ngettext


@require_http_methods(["GET", "POST"])
@role_required(*WORKERS, money=True)
def choose_pack(request: HttpRequest, pk: int) -> HttpResponse:
    """Every pack of a material, what all would cost with it, and a form for each to choose it."""
    material = get_object_or_404(Material, pk=pk)
    studio = current_studio(request)
    form = ChoiceForm(request.POST if request.method == "POST" else None, studio=studio, material=material)
    chosen = saved(
        form,
        lambda: choose(
            supply=form.cleaned_data["supply"],
            packs=form.cleaned_data["packs"],
            submission=submission_from(request),
        ),
    )
    if chosen is not None:
        messages.success(request, _("The list now has the pack that you chose."))
        return redirect(SECTION)
    listed = shopping_list(timezone.localdate())
    found = alternatives(listed, pk)
    need = listed.needs.needs.get(pk)
    context = {
        "material": material,
        "form": form,
        "packs": [_shown(each, material, Formatter.of(studio)) for each in found],
        "is_chosen": need is not None and need.is_chosen,
        "economic": _economic(listed, pk, Formatter.of(studio)),
        "title": _("Which pack of {name}?", name=material),
        "lead": _("What each would cost, together with everything else on the list."),
        "back_url": reverse(SECTION),
        "back_label": _("Shopping list"),
        "section": SECTION,
    }
    return render(request, "shopping/choose.html", context, status=form_status(form))


def _shown(found: Alternative, material: Material, formatter: Formatter) -> dict[str, Any]:
    """One pack in words."""
    dearer = found.dearer_by
    if dearer is None:
        difference = _("No exchange rate, so it cannot be compared.")
    elif dearer > 0:
        difference = _("All together {sum} more.", sum=formatter.money(dearer))
    elif dearer < 0:
        difference = _("All together {sum} less, for less.", sum=formatter.money(-dearer))
    else:
        difference = _("The cheapest.")
    own = replace(formatter, currency=found.supply.supplier.currency)
    return {
        "found": found,
        "size": formatter.short_quantity(found.supply.pack_size, material.measure),
        "cost": own.money(found.cost),
        "difference": difference,
    }


def _economic(listed: ShoppingList, pk: int, formatter: Formatter) -> str:
    """How much at a time costs least over a year, where anything is used."""
    need = listed.needs.needs.get(pk)
    sold = listed.needs.weighed(pk)
    if need is None or not need.a_day or not sold:
        return ""
    offers: list[Offer] = [listed.needs.rates.offer_of(supply) for supply in sold]
    pack, packs = listed.needs.economic(need, offers)
    return _(
        "Over a year, {packs} × {size} at a time cost least: carriage and holding stock together.",
        packs=packs,
        size=formatter.short_quantity(pack.size, need.material.measure),
    )


@require_POST
@role_required(*WORKERS, money=True)
def cheapest_again(request: HttpRequest, pk: int) -> HttpResponse:
    """Leave the choice of pack to the list again."""
    material = get_object_or_404(Material, pk=pk)
    leave_to_the_list(material=material, submission=submission_from(request))
    messages.success(request, _("The cheapest pack is chosen again."))
    return redirect(SECTION)


@require_POST
@role_required(*WORKERS)
def order(request: HttpRequest) -> HttpResponse:
    """Order what the page showed, from one supplier or from all of them."""
    form = OrderFromListForm(request.POST, studio=current_studio(request))
    if not form.is_valid():
        messages.error(request, _("Nothing was ordered. Reload the page and try again."))
        return redirect(SECTION)
    try:
        orders = order_from_list(
            packs=form.cleaned_data["lines"],
            submission=submission_from(request, key=form.cleaned_data["key"]),
        )
    except MeniscusError as problem:
        messages.error(request, str(problem))
        return redirect(SECTION)
    count = len(orders)
    messages.success(
        request,
        ngettext(
            "{n} order saved. It now counts as on order: send it to the supplier.",
            "{n} orders saved. They now count as on order: send them to the suppliers.",
            count,
            n=count,
        ),
    )
    return redirect("inventory:order", pk=orders[0].pk) if count == 1 else redirect("inventory:orders")
