"""Putting a sale right: one form opens with what is recorded, and shows all that changes before it is saved."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from costing.selling.actions.corrections import (
    CorrectedSale,
    correct_sale,
    obstacle_to_correction,
    preview_correction,
)
from costing.selling.correction_tables import CorrectedPieceTable, changed_facts, changed_figures
from costing.selling.forms.corrections import CorrectSaleForm, corrected_pieces
from costing.selling.models import Sale
from costing.selling.receipts import receipt_title
from inventory.ledger.keyed_records import fingerprint_of
from studio.accounts.roles import WORKERS, current_user, role_required
from studio.pages.saving import form_status, saved, submission_from
from studio.preferences.context import current_studio
from studio.preferences.formatting import Formatter
from studio.translation import _


@require_http_methods(["GET", "POST"])
@role_required(*WORKERS)
def correct(request: HttpRequest, pk: int) -> HttpResponse:
    sale = get_object_or_404(Sale.objects.select_related("channel", "buyer"), pk=pk)
    if request.method == "GET" and (reason := obstacle_to_correction(sale)):
        messages.error(request, reason)
        return redirect("costing:sale", pk=pk)
    studio, data = current_studio(request), request.POST if request.method == "POST" else None
    lines = list(sale.lines.select_related("piece").order_by("pk"))
    form = CorrectSaleForm(
        data, studio=studio, sale=sale, lines=lines, sees_money=current_user(request).sees_money
    )
    rows = corrected_pieces(data, studio=studio, lines=lines)
    shown: CorrectedSale | None = None
    seen = ""
    if form.is_bound and form.is_valid() and rows.is_valid():
        facts = form.facts(rows)
        seen = fingerprint_of([sale, facts])
        submission = submission_from(
            request, on=form.cleaned_data["on"], key=form.cleaned_data["key"], confirmed=form.confirmations
        )
        given: dict[str, Any] = {"sale": sale, "facts": facts, "submission": submission}
        if form.cleaned_data["seen"] == seen:
            corrected = saved(form, lambda: correct_sale(**given), lines=rows)
            if corrected is not None:
                done = _("Corrected. Sale {number} was undone; this one stands in its place.", number=sale.pk)
                messages.success(request, done)
                return redirect("costing:sale", pk=corrected.pk)
        else:
            shown = saved(form, lambda: preview_correction(**given), lines=rows)
    context = {
        "form": form,
        "formset": rows,
        "is_shown": shown is not None,
        "seen": seen if shown else "",
        "send": _("Save the correction") if shown else _("Show what changes"),
        "title": _("Correct sale {number}", number=pk),
        "lead": _(
            "Change what was recorded wrongly and leave the rest. You see what changes before anything is saved."
        ),
        "back_url": reverse("costing:sale", args=[pk]),
        "back_label": _("Sale {number}", number=pk),
        "section": "costing:sales",
        **(_changes(request, shown) if shown else {}),
    }
    status = 200 if shown is not None else form_status(form)
    return render(request, "sales/correct.html", context, status=status)


def _changes(request: HttpRequest, shown: CorrectedSale) -> dict[str, Any]:
    formatter = Formatter.of(current_studio(request))
    figures = changed_figures(shown, sees_money=current_user(request).sees_money)
    numbered = shown.before.sale.number is not None
    return {
        "table": CorrectedPieceTable(figures, request),
        "facts": changed_facts(shown, formatter),
        "replaced": receipt_title(shown.before.sale) if numbered else "",
    }
