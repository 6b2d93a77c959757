"""Putting opening stock right: one form opens with what is recorded, and shows all that changes before it is posted."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from inventory.ledger.corrections import last_correction, receipt_of
from inventory.ledger.models import Posting
from inventory.purchasing.views.corrections import answer_correction
from inventory.stock.actions.opening_stock import (
    correct_opening,
    lots_of,
    opening_stock,
    preview_opening_correction,
)
from inventory.stock.forms.opening_corrections import (
    CorrectedLots,
    CorrectOpeningForm,
    opening_facts_of,
    recorded_lots,
)
from studio.accounts.roles import OWNER_ONLY, role_required
from studio.preferences.context import current_studio
from studio.translation import _


@require_http_methods(["GET", "POST"])
@role_required(*OWNER_ONLY, money=True)
def correct(request: HttpRequest, number: int) -> HttpResponse:
    posting: Posting = get_object_or_404(opening_stock().select_related("reversed_by"), pk=number)
    back = reverse("inventory:posting", args=[number])
    if hasattr(posting, "reversed_by"):
        messages.error(request, _("This opening stock was reversed, so there is nothing left to correct."))
        return redirect(back)
    receipt = receipt_of(posting)
    lots = lots_of(receipt)
    data, studio = request.POST if request.method == "POST" else None, current_studio(request)
    form = CorrectOpeningForm(data, studio=studio, receipt=receipt, known=last_correction(posting))
    lines = CorrectedLots(data, lines=recorded_lots(receipt, lots), form_kwargs={"studio": studio})
    alone = lots[0] if len(lots) == 1 else None
    return answer_correction(
        request,
        form,
        lines,
        asked=lambda: {"posting": posting, "facts": opening_facts_of(form, lines)},
        correct=correct_opening,
        preview=preview_opening_correction,
        page={
            "title": _("Correct opening stock"),
            "back_url": reverse("inventory:lot", args=[alone.pk]) if alone else back,
            "back_label": _("Lot {label}", label=alone.label) if alone else _("Opening stock"),
            "section": "inventory:stock",
        },
    )
