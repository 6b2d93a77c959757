"""One lot: where it came from and where it went; writing some of it off, decanting, opening it."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from inventory.ledger.models import Entry, Lot, Posting
from inventory.ledger.movements import account_movements
from inventory.ledger.reversals import may_reverse, obstacle_to_reversal
from inventory.ledger.undo import latest_at
from inventory.ledger.views.undo import undo_of
from inventory.materials.cautions import states_hazards
from inventory.purchasing.correction_history import PastCorrection, corrections_of_lot
from inventory.recipes.contents import parts_in
from inventory.recipes.models import Mix
from inventory.recipes.queries import estimates_in
from inventory.sessions.queries.pours import pours_from
from inventory.stock.actions.lots import decant, describe_lot, write_off
from inventory.stock.changes import stock_changes
from inventory.stock.forms.lots import DecantForm, LotActForm, LotForm, WriteOffForm
from inventory.stock.opening_history import corrections_of_opening, opening_of
from inventory.stock.queries import held_lots
from inventory.stock.tables import MovementTable
from studio.accounts.models import User
from studio.accounts.roles import EVERYONE, WORKERS, current_user, role_required
from studio.pages.reference import EditView
from studio.pages.saving import form_status, saved, submission_from
from studio.preferences.context import current_studio
from studio.preferences.formatting import Formatter
from studio.submission import Submission
from studio.translation import _

SECTION = "inventory:stock"
LOTS = Lot.objects.select_related("material", "balance", "decanted_from")


@require_safe
@role_required(*EVERYONE)
def lot(request: HttpRequest, pk: int) -> HttpResponse:
    row = get_object_or_404(LOTS.select_related("delivery_line__delivery__supplier"), pk=pk)
    user, formatter = current_user(request), Formatter.of(current_studio(request))
    opening = opening_of(row)
    latest = latest_at(row)
    undo = undo_of(request, latest)
    mix = Mix.objects.filter(lot=row).select_related("version__recipe", "posting__recorded_by").first()
    context = {
        "lot": row,
        "corrections": _corrections(row, opening, formatter, sees_money=user.sees_money),
        "use_by": next((held.use_by for held in held_lots(lots=[pk])), None),
        "parts": [part for part in parts_in([pk])[pk] if states_hazards(part)],
        "jars": row.decanted_into.all(),
        "mix": mix,
        "estimates": estimates_in(mix) if mix else [],
        "pours": pours_from(row),
        "movements": MovementTable(
            account_movements(Entry.objects.filter(lot=row)), request, without=["lot"]
        ),
        "today": timezone.localdate(),
        "undo": undo,
        "reversible": latest if not undo and latest and _may_reverse_still(user, latest) else None,
        "changes": stock_changes(latest) if latest and undo else [],
        "title": _("Lot {label}", label=row.label),
        "lead": row.material.name,
        "back_url": reverse("inventory:material", args=[row.material_id]),
        "back_label": row.material.name,
        "section": SECTION,
    }
    if opening and user.is_owner and not hasattr(opening, "reversed_by"):
        context["second_url"] = reverse("inventory:opening-stock-correct", args=[opening.pk])
        context["second_label"] = _("Correct this opening stock")
    return render(request, "lots/detail.html", context)


def _may_reverse_still(person: User, posting: Posting) -> bool:
    """Whether what is too old for one touch can be reversed with a reason."""
    return may_reverse(person, posting) and not obstacle_to_reversal(posting)


def _corrections(
    row: Lot, opening: Posting | None, formatter: Formatter, *, sees_money: bool
) -> list[PastCorrection]:
    """What was corrected about a lot, whichever way it came in."""
    if opening is None:
        return corrections_of_lot(row.pk, formatter, sees_money=sees_money)
    return corrections_of_opening(opening, formatter, sees_money=sees_money, lot=row.pk)


class LotEdit(EditView):
    model, form_class = Lot, LotForm
    roles = WORKERS
    edit_name = page_name = "inventory:lot"
    section, can_delete = SECTION, False
    action = staticmethod(describe_lot)


@require_http_methods(["GET", "POST"])
@role_required(*WORKERS)
def write_off_page(request: HttpRequest, pk: int) -> HttpResponse:
    row = get_object_or_404(LOTS, pk=pk)
    form = WriteOffForm(request.POST or None, studio=current_studio(request), lot=row)
    if saved(form, lambda: write_off(lot=row, submission=_submission(request, form), **form.facts)):
        messages.success(request, _("Written off from {lot}.", lot=row.label))
        return redirect("inventory:lot", pk=pk)
    return _form_page(request, form, _("Write off from {lot}", lot=row.label), _("Write off"))


@require_http_methods(["GET", "POST"])
@role_required(*WORKERS)
def decant_page(request: HttpRequest, pk: int) -> HttpResponse:
    row = get_object_or_404(LOTS, pk=pk)
    form = DecantForm(request.POST or None, studio=current_studio(request), lot=row)
    jar = saved(form, lambda: decant(lot=row, submission=_submission(request, form), **form.facts))
    if jar is not None:
        advice = _(
            "{lot} created. Write {lot}, the name, the date and the hazards on the jar.", lot=jar.label
        )
        messages.success(request, advice)
        return redirect("inventory:lot", pk=jar.pk)
    return _form_page(request, form, _("Decant from {lot}", lot=row.label), _("Decant"))


def _submission(request: HttpRequest, form: LotActForm) -> Submission:
    sent = form.cleaned_data
    return submission_from(request, on=sent["on"], key=sent["key"], confirmed=form.confirmations)


def _form_page(request: HttpRequest, form: LotActForm, title: str, send: str) -> HttpResponse:
    context = {
        "form": form,
        "send": send,
        "title": title,
        "lead": form.lot.material.name,
        "back_url": reverse("inventory:lot", args=[form.lot.pk]),
        "back_label": _("Lot {label}", label=form.lot.label),
        "section": SECTION,
    }
    return render(request, "lots/act.html", context, status=form_status(form))
