"""Labels for the jars and bottles on the shelf, on sheets of stickers."""

from collections.abc import Sequence
from typing import Any

from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_safe

from inventory.ledger.models import Lot, LotOrigin
from inventory.materials.cautions import contained_hazards
from inventory.materials.models import Material
from inventory.recipes.contents import parts_in
from inventory.stock.jar_labels import JarLabel, draw_jar_labels
from inventory.stock.queries import held_lots
from studio.accounts.roles import EVERYONE, role_required
from studio.pages.label_sheets import LabelSheetForm
from studio.pages.papers import pdf_answer, print_warning
from studio.pages.saving import saved
from studio.preferences.context import current_studio
from studio.preferences.formatting import Formatter
from studio.translation import _
from studio.values.numbers import read_small_whole

MOST_LISTED = 300
FROM_HERE = (LotOrigin.MIX, LotOrigin.DECANT)  # what was bought has the maker's label


class JarLabelForm(LabelSheetForm):
    """The sheet, and whether bought bottles are listed too."""

    bought = forms.BooleanField(label=gettext_lazy("List bought bottles too"), required=False)


@require_safe
@role_required(*EVERYONE)
def jar_labels(request: HttpRequest) -> HttpResponse:
    """Choose lots and the sheet; printed, the address makes the PDF."""
    studio = current_studio(request)
    first = {"paper": studio.paper, "start": "1", "copies": "1"}
    form = JarLabelForm(request.GET if "paper" in request.GET else first, studio=studio)
    numbers = {number for text in request.GET.getlist("lot") if (number := read_small_whole(text))}
    is_valid = form.is_valid()
    lots = Lot.objects.on_shelf().select_related("material").order_by("-received_on", "-pk")
    if not (is_valid and form.cleaned_data["bought"]):
        lots = lots.filter(origin__in=FROM_HERE) | lots.filter(pk__in=numbers)
    listed = list(lots[:MOST_LISTED])
    if "print" in request.GET and is_valid:
        chosen = [lot for lot in listed if lot.pk in numbers]
        pdf = saved(form, lambda: _drawn(form, chosen, Formatter.of(studio), studio.name))
        if pdf is not None:
            return pdf_answer(pdf, "jar-labels")
    printed = {
        lot: [text for part in parts for text in (part.name, part.hazards)]
        for lot, parts in parts_in(lot.pk for lot in listed).items()
    }
    context = {
        "title": _("Jar labels"),
        "lead": _("Name, lot, day, use by and hazards, for what you mixed or decanted."),
        "form": form,
        "warning": print_warning(
            text for lot in listed for text in (lot.material.name, lot.material.hazards, *printed[lot.pk])
        ),
        "lots": [(lot, lot.pk in numbers) for lot in listed],
        "section": "inventory:stock",
        "back_url": reverse("inventory:stock"),
        "back_label": _("Stock"),
    }
    return render(request, "lots/labels.html", context, status=422 if form.errors else 200)


def _drawn(form: JarLabelForm, lots: Sequence[Lot], formatter: Formatter, studio: str) -> bytes:
    sent: dict[str, Any] = form.cleaned_data
    numbers = [lot.pk for lot in lots]
    use_by = {held.lot: held.use_by for held in held_lots(lots=numbers)}
    parts = parts_in(numbers)
    return draw_jar_labels(
        [_label(lot, use_by.get(lot.pk), parts[lot.pk], formatter) for lot in lots],
        studio=studio,
        grid=form.grid,
        start=sent["start"],
        copies=sent["copies"] or 1,
        has_cut_lines=sent["cut_lines"],
    )


def _label(lot: Lot, use_by: Any, parts: Sequence[Material], formatter: Formatter) -> JarLabel:
    material = lot.material
    own = "; ".join(
        " ".join(line.split()).rstrip(";") for line in material.hazards.splitlines() if line.strip()
    )
    return JarLabel(
        name=material.name,
        lot=lot.label,
        made=formatter.day(lot.received_on),
        use_by=_("Use by {day}", day=formatter.day(use_by)) if use_by else "",
        signal_word=material.get_signal_word_display() if material.signal_word else "",
        hazards=" ".join(filter(None, (own, contained_hazards(parts)))),
    )
