"""What stood on the shelf when the books began."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from inventory.materials.choices import by_kind, stocked_materials
from inventory.purchasing.actions.deliveries import open_stock
from inventory.stock.forms.stocktakes import OpeningForm, OpeningRows
from studio.accounts.roles import WORKERS, role_required
from studio.pages.saving import form_status, saved
from studio.pages.submissions import submission_from
from studio.preferences.context import current_studio
from studio.translation import _

DRAFT = "opening-stock"
SPARE_LINES = 5


@require_http_methods(["GET", "POST"])
@role_required(*WORKERS, money=True)
def opening(request: HttpRequest) -> HttpResponse:
    studio, materials = current_studio(request), stocked_materials()
    form = OpeningForm(request.POST or None, studio=studio, initial={"on": timezone.localdate()})
    lines = OpeningRows(
        request.POST or None,
        prefix="lines",
        spare=SPARE_LINES,
        form_kwargs={"studio": studio, "materials": materials, "choices": by_kind(materials.values())},
    )
    posting = saved(
        form,
        lambda: open_stock(
            lines=[row.facts for row in lines.kept],
            submission=submission_from(request, on=form.cleaned_data["on"], key=form.cleaned_data["key"]),
        ),
        lines=lines,
    )
    if posting is not None:
        advice = _("Opening stock saved. Write each lot's number on its bottle.")
        messages.success(request, advice, extra_tags=DRAFT)
        return redirect("inventory:posting", number=posting.number)
    context = {
        "form": form,
        "formset": lines,
        "draft": DRAFT,
        "has_materials": bool(materials),
        "send": _("Save opening stock"),
        "title": _("Opening stock"),
        "lead": _("What you already have, and what it cost when you bought it. Each line becomes a lot."),
        "back_url": reverse("inventory:stock"),
        "back_label": _("Stock"),
        "section": "inventory:stock",
    }
    return render(request, "stocktakes/opening.html", context, status=form_status(form))
