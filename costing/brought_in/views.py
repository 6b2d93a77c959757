"""The page on which finished pieces from before the books are entered."""

from typing import Any, cast

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from costing.brought_in.actions import bring_in_pieces
from costing.brought_in.forms import BroughtInForm, BroughtInRows, usable_locations
from costing.pieces.models import Piece
from inventory.materials.choices import stocked_materials
from inventory.materials.models import Kind
from inventory.materials.new_in_place import NewMaterials
from inventory.sessions.models import Technique
from studio.accounts.roles import WORKERS, current_user, role_required
from studio.pages.saving import form_status, saved, submission_from
from studio.preferences.context import current_studio
from studio.translation import _, ngettext

DRAFT = "finished-pieces"
PIECES = "costing:pieces"
SPARE_ROWS = 2


@require_http_methods(["GET", "POST"])
@role_required(*WORKERS, money=True)
def bring_in(request: HttpRequest) -> HttpResponse:
    form, rows = _forms(request)
    pieces = saved(form, lambda: _bring_in(request, form, rows), rows=rows)
    if pieces is not None:
        numbers = ", ".join(f"{piece.label} {piece.title}" for piece in pieces)
        done = ngettext(
            "{n} piece brought in. Write its number on the back: {numbers}.",
            "{n} pieces brought in. Write their numbers on the backs: {numbers}.",
            len(pieces),
            n=len(pieces),
            numbers=numbers,
        )
        messages.success(request, done, extra_tags=DRAFT)
        return redirect("costing:piece", pk=pieces[0].pk) if len(pieces) == 1 else redirect(PIECES)
    context = {
        "form": form,
        "formset": rows,
        "draft": DRAFT,
        "send": _("Save the pieces"),
        "title": _("Finished pieces from before"),
        "lead": _(
            "Pieces that were finished before you began here, at a cost of your own. "
            "They become opening stock of the day."
        ),
        "back_url": reverse(PIECES),
        "back_label": _("Pieces"),
        "second_url": reverse("import-finished-pieces"),
        "second_label": _("Import"),
        "second_icon": "delivery",
        "section": PIECES,
    }
    return render(request, "brought_in/new.html", context, status=form_status(form))


def _forms(request: HttpRequest) -> tuple[BroughtInForm, Any]:
    studio, data = current_studio(request), request.POST if request.method == "POST" else None
    materials = stocked_materials()
    surfaces = {pk: row for pk, row in materials.items() if row.kind == Kind.SURFACE}
    form = BroughtInForm(data, studio=studio, initial={"on": timezone.localdate()})
    rows = BroughtInRows(
        data,
        prefix="rows",
        spare=SPARE_ROWS,
        form_kwargs={
            "studio": studio,
            "surfaces": surfaces,
            "techniques": list(Technique.objects.all()),
            "locations": usable_locations(),
            "new": NewMaterials(surfaces, current_user(request).is_owner),
        },
    )
    return form, rows


def _bring_in(request: HttpRequest, form: BroughtInForm, rows: Any) -> list[Piece]:
    submission = submission_from(request, on=form.cleaned_data["on"], key=form.cleaned_data["key"])
    new = cast("NewMaterials", rows.form_kwargs["new"])
    return new.saving_first(
        lambda: bring_in_pieces(pieces=[row.facts for row in rows.kept], submission=submission), submission
    )
