"""A late change to what a delivered line cost: shown first, with where it goes, then posted."""

from collections import defaultdict
from collections.abc import Iterable

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_http_methods

from inventory.ledger.accounts import AccountReference
from inventory.ledger.corrections import Destination, correct_receipt, spread
from inventory.ledger.models import Lot, Place, Posting, Reason
from inventory.ledger.movements import account_name
from inventory.purchasing.forms.deliveries import CorrectionForm
from inventory.purchasing.models import Delivery, DeliveryLine
from inventory.purchasing.tables import ShareRow, ShareTable, account_link
from studio.accounts.roles import OWNER_ONLY, role_required
from studio.errors import MeniscusError
from studio.pages.saving import saved, submission_from
from studio.preferences.context import current_studio
from studio.preferences.formatting import Formatter
from studio.translation import _

WORDS = {
    Place.LOT: gettext_lazy("Still in stock"),
    Place.WORK: gettext_lazy("In unsold work"),
    Place.SOLD: gettext_lazy("Cost of sales"),
    Place.LOSS: gettext_lazy("In losses and other disposals"),
    Place.OUTSIDE: gettext_lazy("Returned to where it came from: not posted"),
}


def note_for(line: DeliveryLine, reason: str) -> str:
    """What the ledger says about a correction: the lot and its delivery first."""
    return f"{line.lot.label} of delivery {line.delivery_id}: {reason}"


@require_http_methods(["GET", "POST"])
@role_required(*OWNER_ONLY, money=True)
def correct(request: HttpRequest, pk: int) -> HttpResponse:
    delivery = get_object_or_404(Delivery.objects.select_related("supplier", "posting__reversed_by"), pk=pk)
    if hasattr(delivery.posting, "reversed_by"):
        messages.error(request, _("This delivery was reversed, so there is no cost left to correct."))
        return redirect("inventory:delivery", pk=pk)
    form = CorrectionForm(
        request.POST or None,
        studio=current_studio(request),
        delivery=delivery,
        initial={"on": timezone.localdate(), "line": request.GET.get("line")},
    )
    shares: list[ShareRow] = []
    is_shown = False
    if form.is_bound and form.is_valid():
        if form.cleaned_data["seen"] == form.what_was_seen:
            posting = saved(form, lambda: _correct(request, form))
            if posting is not None:
                messages.success(request, _("Corrected by posting {number}.", number=posting.number))
                return redirect("inventory:delivery", pk=pk)
        if not form.errors:
            try:
                shares = described(spread(form.cleaned_data["line"].lot, form.difference, form.more))
                is_shown = True
            except MeniscusError as problem:
                form.refuse(problem)
    context = {
        "form": form,
        "table": ShareTable(shares, request, totals={"money": form.difference} if shares else {}),
        "seen": form.what_was_seen if is_shown else "",
        "change": _change(request, form) if is_shown else "",
        "send": _("Post the correction") if is_shown else _("Show where it goes"),
        "title": _("Correct a line"),
        "lead": _(
            "For a wrong pack size, a late invoice or a credit note. The change follows the paint: to what is in "
            "stock, in unsold work, sold or lost."
        ),
        "back_url": reverse("inventory:delivery", args=[pk]),
        "back_label": _("Delivery"),
        "section": "inventory:deliveries",
    }
    status = 422 if form.errors else 200
    return render(request, "deliveries/correct.html", context, status=status)


def _correct(request: HttpRequest, form: CorrectionForm) -> Posting:
    typed = form.cleaned_data
    return correct_receipt(
        lot=typed["line"].lot,
        difference=form.difference,
        quantity=form.more,
        note=note_for(typed["line"], typed["reason"]),
        submission=submission_from(request, on=typed["on"], key=typed["key"]),
    )


def _change(request: HttpRequest, form: CorrectionForm) -> str:
    """How the quantity changes, in words; empty when only the cost does."""
    if not form.more:
        return ""
    lot = form.cleaned_data["line"].lot
    formatter = Formatter.of(current_studio(request))
    return _(
        "{lot}: {before} received becomes {after}.",
        lot=lot.label,
        before=formatter.quantity(form.before, lot.material.measure),
        after=formatter.quantity(form.before + form.more, lot.material.measure),
    )


def described(destinations: Iterable[Destination]) -> list[ShareRow]:
    """Where a correction goes, kind of place by kind of place, with names and addresses."""
    money: dict[AccountReference, int] = defaultdict(int)
    for each in destinations:
        money[each.account] += each.money
    lots = Lot.objects.select_related("material").in_bulk([account.lot for account in money if account.lot])
    reasons = Reason.objects.in_bulk([account.reason for account in money if account.reason])

    def row(account: AccountReference, amount: int) -> ShareRow:
        name = "" if account.place == Place.OUTSIDE else account_name(account, reasons)
        if account.lot:
            name = f"{lots[account.lot].material.name}, {name}"
        return ShareRow(str(WORDS[account.place]), name, account_link(account), amount)

    order = list(WORDS)
    by_place = sorted(money.items(), key=lambda item: order.index(item[0].place))
    return [row(account, amount) for account, amount in by_place]
