"""A late change to what a delivered line cost: shown first, with where it goes, then posted."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_http_methods

from inventory.ledger.corrections import Destination, correct_cost, spread
from inventory.ledger.models import Lot, Place, Reason
from inventory.purchasing.forms.deliveries import CorrectionForm
from inventory.purchasing.models import Delivery, DeliveryLine
from inventory.purchasing.tables import ShareRow, ShareTable
from inventory.sessions.models import Pour
from studio.accounts.roles import OWNER_ONLY, role_required
from studio.errors import MeniscusError
from studio.pages.submissions import submission_from
from studio.preferences.context import current_studio
from studio.translation import _

WORDS = {
    Place.LOT: gettext_lazy("Still in stock"),
    Place.WORK: gettext_lazy("In unsold work"),
    Place.SOLD: gettext_lazy("Cost of sales"),
    Place.LOSS: gettext_lazy("In losses and other disposals"),
    Place.OUTSIDE: gettext_lazy("Returned to where it came from: not posted"),
}


@dataclass(slots=True)
class Share:
    """The part of a correction that goes to one kind of place, and to which of them."""

    words: str
    money: int = 0
    held: list[tuple[str, str, int]] = field(default_factory=list)


def note_for(line: DeliveryLine, reason: str) -> str:
    """What the ledger says about a correction: the lot and its delivery first, so that the page finds it again.

    For that it says so in the same words in every language.
    """
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
        lines=list(delivery.lines.all()),
        initial={"on": timezone.localdate(), "line": request.GET.get("line")},
    )
    shares: list[Share] = []
    if request.method == "POST" and form.is_valid():
        if form.cleaned_data["seen"] == form.what_was_seen and _posted(request, form):
            return redirect("inventory:delivery", pk=pk)
        if not form.errors:
            shares = described(spread(form.cleaned_data["line"].lot, form.difference))
    context = {
        "form": form,
        "delivery": delivery,
        "table": ShareTable(
            [ShareRow(share.words, *held) for share in shares for held in share.held],
            request,
            totals={"money": form.difference} if shares else {},
        ),
        "seen": form.what_was_seen if shares else "",
        "section": "inventory:deliveries",
    }
    status = 422 if form.errors else 200
    return render(request, "deliveries/correct.html", context, status=status)


def _posted(request: HttpRequest, form: CorrectionForm) -> bool:
    said = form.cleaned_data
    try:
        posting = correct_cost(
            lot=said["line"].lot,
            difference=form.difference,
            note=note_for(said["line"], said["reason"]),
            submission=submission_from(request, on=said["on"], key=said["key"]),
        )
    except MeniscusError as problem:
        form.refuse(problem)
        return False
    messages.success(request, _("Cost corrected by posting {number}.", number=posting.number))
    return True


def described(destinations: Iterable[Destination]) -> list[Share]:
    """Where a correction goes, kind of place by kind of place, with names and addresses."""
    found = list(destinations)
    lots = Lot.objects.select_related("material").in_bulk(
        [item.account.lot for item in found if item.account.lot]
    )
    pours = Pour.objects.in_bulk([item.account.pour for item in found if item.account.pour])
    reasons = Reason.objects.in_bulk([item.account.reason for item in found if item.account.reason])
    money: dict[tuple[Place, str, str], int] = defaultdict(int)
    for item in found:
        account = item.account
        name, address = "", ""
        if account.lot:
            name = f"{lots[account.lot].material.name}, {lots[account.lot].label}"
            address = reverse("inventory:lot", args=[account.lot])
        elif account.pour:
            name, address = (
                _("Pour {label}", label=pours[account.pour].label),
                reverse("inventory:pour", args=[account.pour]),
            )
        elif account.reason:
            name = reasons[account.reason].name
        money[account.place, name, address] += item.money
    shares = {place: Share(str(words)) for place, words in WORDS.items()}
    for (place, name, address), amount in money.items():
        shares[place].money += amount
        shares[place].held.append((name, address, amount))
    return [share for share in shares.values() if share.held]
