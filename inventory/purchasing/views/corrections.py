"""Putting a delivery right: one form opens with what is recorded, and shows all that changes before it is posted."""

from collections.abc import Callable, Mapping
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from inventory.ledger.corrections import last_correction
from inventory.ledger.effects import Effect
from inventory.ledger.keyed_records import fingerprint_of
from inventory.ledger.models import Posting
from inventory.ledger.views.effects import effect_table
from inventory.purchasing.actions.corrections import correct_delivery, preview_correction
from inventory.purchasing.forms.corrections import (
    CorrectDeliveryForm,
    CorrectedLines,
    CorrectedLinesBase,
    CorrectionForm,
    facts_of,
)
from inventory.purchasing.models import Delivery
from studio.accounts.roles import OWNER_ONLY, role_required
from studio.pages.saving import form_status, saved, submission_from
from studio.preferences.context import current_studio
from studio.translation import _


@require_http_methods(["GET", "POST"])
@role_required(*OWNER_ONLY, money=True)
def correct(request: HttpRequest, pk: int) -> HttpResponse:
    delivery = get_object_or_404(
        Delivery.objects.select_related("supplier", "order", "posting__reversed_by"), pk=pk
    )
    if hasattr(delivery.posting, "reversed_by"):
        messages.error(request, _("This delivery was reversed, so there is nothing left to correct."))
        return redirect("inventory:delivery", pk=pk)
    form, lines = _forms(request, delivery)
    return answer_correction(
        request,
        form,
        lines,
        asked=lambda: {"delivery": delivery, "facts": facts_of(form, lines)},
        correct=correct_delivery,
        preview=preview_correction,
        page={
            "title": _("Correct a delivery"),
            "back_url": reverse("inventory:delivery", args=[pk]),
            "back_label": _("Delivery"),
            "section": "inventory:deliveries",
        },
    )


def answer_correction(
    request: HttpRequest,
    form: CorrectionForm,
    lines: CorrectedLinesBase,
    *,
    asked: Callable[[], dict[str, Any]],
    correct: Callable[..., Posting],
    preview: Callable[..., list[Effect]],
    page: Mapping[str, Any],
) -> HttpResponse:
    """Show what a correction of a receipt would change, and post just what was shown; then back to `back_url`."""
    effects: list[Effect] | None = None
    seen = ""
    if form.is_bound and form.is_valid() and lines.is_valid():
        given = asked()
        seen = fingerprint_of(list(given.values()))
        given["submission"] = submission_from(request, key=form.cleaned_data["key"])
        if form.cleaned_data["seen"] == seen:
            posting = saved(form, lambda: correct(**given), lines=lines)
            if posting is not None:
                messages.success(
                    request,
                    _(
                        "Corrected. The old figures stay in the ledger under no. {number}.",
                        number=posting.number,
                    ),
                )
                return redirect(page["back_url"])
        else:
            effects = saved(form, lambda: preview(**given), lines=lines)
    is_shown = effects is not None
    context = {
        "form": form,
        "formset": lines,
        "table": effect_table(request, effects or []),
        "is_shown": is_shown,
        "seen": seen if is_shown else "",
        "send": _("Save the correction") if is_shown else _("Show what changes"),
        "lead": _(
            "Change what was recorded wrongly and leave the rest. You see what changes before anything is saved."
        ),
        **page,
    }
    return render(request, "deliveries/correct.html", context, status=200 if is_shown else form_status(form))


def _forms(request: HttpRequest, delivery: Delivery) -> tuple[CorrectDeliveryForm, CorrectedLinesBase]:
    data, studio = request.POST if request.method == "POST" else None, current_studio(request)
    rows = list(delivery.lines.select_related("lot__material", "delivery").order_by("pk"))
    form = CorrectDeliveryForm(
        data, studio=studio, delivery=delivery, known=last_correction(delivery.posting)
    )
    kwargs = {"studio": studio, "currency": form.invoice_currency}
    return form, CorrectedLines(data, lines=rows, form_kwargs=kwargs)
