"""One lot: where it came from and where it went; writing some of it off, decanting, opening it."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from inventory.ledger.models import Lot
from inventory.ledger.undo import latest_at
from inventory.ledger.views.undo import undo_of
from inventory.recipes.models import Mix
from inventory.sessions.queries.pours import pours_from
from inventory.stock.actions.lots import describe_lot
from inventory.stock.actions.write_offs import decant, write_off
from inventory.stock.cards import lot_card
from inventory.stock.forms.lots import DecantForm, LotForm, WriteOffForm
from inventory.stock.tables import MovementTable
from studio.accounts.roles import EVERYONE, WORKERS, current_user, role_required
from studio.auditing.queries import last_change_number
from studio.errors import MeniscusError
from studio.pages.submissions import submission_from
from studio.preferences.context import current_studio
from studio.submission import Submission
from studio.translation import _


@require_safe
@role_required(*EVERYONE)
def lot(request: HttpRequest, pk: int) -> HttpResponse:
    found = _lot(pk)
    card = lot_card(found)
    context = {
        "lot": found,
        "title": _("Lot {label}", label=found.label),
        "lead": found.material.name,
        "card": card,
        "mix": Mix.objects.filter(lot=found).select_related("version__recipe").first(),
        "pours": pours_from(found),
        "movements": MovementTable(card.movements, request),
        "today": timezone.localdate(),
        "may_log": current_user(request).may_write,
        "undo": undo_of(request, latest_at(found, at=timezone.now())),
        "section": "inventory:stock",
    }
    return render(request, "lots/detail.html", context)


@require_http_methods(["GET", "POST"])
@role_required(*WORKERS)
def lot_edit(request: HttpRequest, pk: int) -> HttpResponse:
    seen = last_change_number(Lot, pk)
    found = _lot(pk)
    form = LotForm(request.POST or None, studio=current_studio(request), lot=found, seen=seen)
    if form.is_bound and form.is_valid():
        try:
            describe_lot(
                lot=found,
                facts=form.facts(),
                submission=submission_from(request),
                seen=form.cleaned_data["seen"],
            )
        except MeniscusError as problem:
            form.refuse(problem)
        else:
            messages.success(request, _("{label} saved.", label=found.label))
            return redirect("inventory:lot", pk=pk)
    return _form_page(request, found, form, _("Edit {lot}", lot=found.label), _("Save"))


@require_http_methods(["GET", "POST"])
@role_required(*WORKERS)
def write_off_page(request: HttpRequest, pk: int) -> HttpResponse:
    found = _lot(pk)
    form = WriteOffForm(request.POST or None, studio=current_studio(request), lot=found)
    if form.is_bound and form.is_valid():
        try:
            write_off(lot=found, submission=_submission(request, form), **form.facts())
        except MeniscusError as problem:
            form.refuse(problem)
        else:
            messages.success(request, _("Written off from {lot}.", lot=found.label))
            return redirect("inventory:lot", pk=pk)
    return _form_page(request, found, form, _("Write off from {lot}", lot=found.label), _("Write off"))


@require_http_methods(["GET", "POST"])
@role_required(*WORKERS)
def decant_page(request: HttpRequest, pk: int) -> HttpResponse:
    found = _lot(pk)
    form = DecantForm(request.POST or None, studio=current_studio(request), lot=found)
    if form.is_bound and form.is_valid():
        try:
            jar = decant(lot=found, submission=_submission(request, form), **form.facts())
        except MeniscusError as problem:
            form.refuse(problem)
        else:
            messages.success(
                request,
                _(
                    "{lot} created. Write {lot}, the name, the date and the hazards on the jar.",
                    lot=jar.label,
                ),
            )
            return redirect("inventory:lot", pk=jar.pk)
    return _form_page(request, found, form, _("Decant from {lot}", lot=found.label), _("Decant"))


def _submission(request: HttpRequest, form: WriteOffForm | DecantForm) -> Submission:
    return submission_from(request, on=form.cleaned_data["on"], key=form.cleaned_data["key"])


def _lot(pk: int) -> Lot:
    return get_object_or_404(Lot.objects.select_related("material", "balance", "decanted_from"), pk=pk)


def _form_page(
    request: HttpRequest, found: Lot, form: LotForm | WriteOffForm | DecantForm, title: str, send: str
) -> HttpResponse:
    context = {
        "lot": found,
        "form": form,
        "title": title,
        "send": send,
        "label": _("Lot {label}", label=found.label),
        "section": "inventory:stock",
    }
    return render(request, "lots/act.html", context, status=422 if form.is_bound else 200)
