"""Consignment notes: pieces given to a gallery, what it has sold of them, what came back, and the note on paper."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from costing.consignments.actions import ConsignmentFacts, consign, settle, take_back
from costing.consignments.filters import ConsignmentFilter
from costing.consignments.forms import ConsignmentForm, SettleForm, TakeBackForm, TickedPiecesForm
from costing.consignments.models import Consignment
from costing.consignments.note_paper import NOTE, note_document
from costing.consignments.queries import NoteState, notes, state_of, states_of
from costing.consignments.tables import ConsignedPieceTable, ConsignmentTable
from costing.locations.models import Location, LocationKind
from costing.pieces.calculations import State
from costing.pieces.queries import standing_pieces, with_parts
from costing.pricing.price_sheet import priced_below_cost
from costing.pricing.terms import terms_on
from inventory.errors import day_in_words
from studio.accounts.roles import EVERYONE, WORKERS, current_user, role_required
from studio.issued.queries import issued_state
from studio.pages.papers import PaperForm, asked_paper, pdf_answer
from studio.pages.saving import form_page, saved, submission_from
from studio.pages.tables import list_page, page_of
from studio.preferences.context import current_studio
from studio.translation import _, ngettext, quoted
from studio.values.numbers import read_small_whole

PER_PAGE = 50
LIST = "costing:consignments"
OFFERED = (State.FINISHED, State.FOR_SALE)
MOST_LISTED = 300


@require_safe
@role_required(*EVERYONE)
def consignments(request: HttpRequest) -> HttpResponse:
    filters = ConsignmentFilter(request.GET, notes(), request=request)
    page_obj = page_of(request, filters.qs, PER_PAGE)
    table = ConsignmentTable(states_of(page_obj), request, filters)
    galleries = Location.objects.filter(kind=LocationKind.GALLERY, is_active=True)
    context = {"page_obj": page_obj, "filters": filters, "has_galleries": galleries.exists()}
    return list_page(request, "consignments/list.html", table, context)


@require_http_methods(["GET", "POST"])
@role_required(*WORKERS, money=True)
def new(request: HttpRequest) -> HttpResponse:
    """A new note: which pieces, to which gallery, at which prices."""
    pieces = list(with_parts(standing_pieces().filter(state__in=OFFERED))[:MOST_LISTED])
    form = ConsignmentForm(
        request.POST or None,
        studio=current_studio(request),
        listed=[(piece, piece.price) for piece in pieces],
        initial={"gallery": read_small_whole(request.GET.get("gallery", ""))},
    )

    def act() -> Any:
        sent = form.cleaned_data
        facts = ConsignmentFacts(sent["gallery"], form.priced, sent["until"], sent["note"])
        return consign(facts=facts, submission=submission_from(request, on=sent["on"], key=sent["key"]))

    note = saved(form, act)
    if note is not None:
        messages.success(request, _("“{name}” saved. Print it for both of you to sign.", name=note))
        _warn(request, note)
        return redirect("costing:consignment", pk=note.pk)
    return form_page(
        request,
        form,
        "consignments/tick.html",
        title=_("Give pieces to a gallery"),
        lead=_(
            "They stay yours until they are sold. What the gallery keeps, the terms of its sales channel say."
        ),
        back_url=reverse(LIST),
        back_label=_("Consignment notes"),
        section=LIST,
    )


def _warn(request: HttpRequest, note: Consignment) -> None:
    """Say it loudly where the gallery's share leaves less than a piece cost."""
    pieces = list(with_parts(standing_pieces().filter(placements__consignment_line__consignment=note)))
    below = priced_below_cost(
        pieces, note.on, galleries={piece.pk: note.gallery.channel_id or 0 for piece in pieces}
    )
    titles = [quoted(piece.title) for piece, channels in below if str(note.gallery.channel) in channels]
    if titles:
        words = _(
            "After the gallery’s share this does not cover its cost: {titles}.", titles=", ".join(titles)
        )
        messages.warning(request, words)


@require_safe
@role_required(*EVERYONE)
def consignment(request: HttpRequest, pk: int) -> HttpResponse:
    state, studio = _state(pk), current_studio(request)
    note = state.note
    table = ConsignedPieceTable(state.lines, request)
    channel = note.gallery.channel
    context = {
        "title": str(note),
        "lead": f"{note.gallery}, {day_in_words(note.on)}",
        "state": state,
        "terms": terms_on(channel, timezone.localdate()) if channel else None,
        "paper_form": PaperForm.offered(
            studio, *(each.piece.title for each in state.lines), str(note.gallery), note.note
        ),
        "issued": issued_state(NOTE.code, pk, current_user(request)),
        "is_overdue": bool(state.there and note.until and note.until < timezone.localdate()),
        "back_url": reverse(LIST),
        "back_label": _("Consignment notes"),
        "section": LIST,
    }
    return list_page(request, "consignments/page.html", table, context)


@require_http_methods(["GET", "POST"])
@role_required(*WORKERS, money=True)
def sold(request: HttpRequest, pk: int) -> HttpResponse:
    """What the gallery reports as sold becomes sales, at its terms of that day."""
    state = _state(pk)
    listed = [(each.piece, each.line.price) for each in state.there]
    form = SettleForm(request.POST or None, studio=current_studio(request), listed=listed)
    sale = saved(
        form, lambda: settle(consignment=state.note, sold=form.priced, submission=_submission(request, form))
    )
    if sale is not None:
        count = sale.lines.count()
        messages.success(request, ngettext("{n} piece sold.", "{n} pieces sold.", count, n=count))
        return redirect("costing:consignment", pk=pk)
    lead = _(
        "Tick what the gallery has sold, at the price that the buyer paid. It is saved as one sale, at the gallery’s "
        "terms of the day."
    )
    return _tick_page(request, form, state, _("Record what it sold"), lead)


@require_http_methods(["GET", "POST"])
@role_required(*WORKERS)
def returned(request: HttpRequest, pk: int) -> HttpResponse:
    """What comes back to the studio."""
    state = _state(pk)
    form = TakeBackForm(
        request.POST or None,
        studio=current_studio(request),
        listed=[(each.piece, None) for each in state.there],
    )
    back = saved(
        form,
        lambda: take_back(
            consignment=state.note,
            pieces=form.ticked,
            note=form.cleaned_data["note"],
            submission=_submission(request, form),
        ),
    )
    if back is not None:
        count = len(back)
        done = ngettext(
            "{n} piece is back in the studio.", "{n} pieces are back in the studio.", count, n=count
        )
        messages.success(request, done)
        return redirect("costing:consignment", pk=pk)
    return _tick_page(request, form, state, _("Record returns"), _("Tick what is back in the studio."))


@require_safe
@role_required(*WORKERS, money=True)
def paper(request: HttpRequest, pk: int) -> HttpResponse:
    """The note as PDF, on the paper that was chosen."""
    written = note_document(current_studio(request), pk)
    paper = asked_paper(request)
    if paper is None:
        return redirect("costing:consignment", pk=pk)
    return pdf_answer(written.draw(paper), written.name)


def _state(pk: int) -> NoteState:
    return state_of(get_object_or_404(notes(), pk=pk))


def _submission(request: HttpRequest, form: TickedPiecesForm) -> Any:
    return submission_from(request, on=form.cleaned_data["on"], key=form.cleaned_data["key"])


def _tick_page(
    request: HttpRequest, form: TickedPiecesForm, state: NoteState, title: str, lead: str
) -> HttpResponse:
    return form_page(
        request,
        form,
        "consignments/tick.html",
        title=title,
        lead=lead,
        back_url=reverse("costing:consignment", args=[state.note.pk]),
        back_label=str(state.note),
        section=LIST,
    )
