"""A consignment note written out for paper: who gave what to whom, at which prices and terms, and two signatures."""

from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.utils.translation import gettext_lazy

from costing.consignments.queries import NoteState, notes, state_of
from costing.papers.queries import sizes_in_cm
from costing.pricing.terms import terms_on
from inventory.errors import day_in_words
from studio.accounts.roles import WORKERS
from studio.issued.kinds import IssuedKind
from studio.papers.lines import Document, Line, LinesPaper
from studio.preferences.formatting import Formatter
from studio.preferences.frames import frame_for
from studio.preferences.models import Studio
from studio.translation import _, pgettext


def paper_of(state: NoteState, studio: Studio) -> LinesPaper:
    """The paper of a note as it was given, whatever has become of its pieces since; terms of the day it was given."""
    note, gallery, formatter = state.note, state.note.gallery, Formatter.of(studio)
    reach = gallery.contact.reach.splitlines() if gallery.contact else []
    return LinesPaper(
        addresses=[
            (_("From"), [studio.name, *studio.delivery_address.splitlines()]),
            (pgettext("addressee", "To"), [gallery.name, *reach]),
        ],
        facts=_facts(state, formatter),
        name_head=_("Piece, size H × W"),
        heads=[_("Asking price")],
        shares=[0.22],
        lines=[
            Line(
                each.piece.title,
                ", ".join(
                    text
                    for text in (
                        each.piece.label,
                        sizes_in_cm(each.piece.pours, decimal_comma=formatter.decimal_comma),
                        each.piece.technique,
                    )
                    if text
                ),
                [formatter.money(each.line.price)],
            )
            for each in state.lines
        ],
        total=formatter.money(sum(each.line.price for each in state.lines)),
        notes="\n".join(text for text in (note.note, _terms_in_words()) if text),
        signatures=[_("For the studio, date"), _("For the gallery, date")],
    )


def _facts(state: NoteState, formatter: Formatter) -> list[tuple[str, str]]:
    note = state.note
    facts = [
        (_("Number"), str(note.number)),
        (_("Given"), formatter.day(note.on)),
        (_("Until"), formatter.day(note.until) if note.until else _("until one of us ends it")),
        (_("Pieces"), str(len(state.lines))),
    ]
    if note.gallery.channel is not None:
        terms = terms_on(note.gallery.channel, note.on)
        share = formatter.percent(terms.commission)
        base = _("of the price without tax") if terms.commission_before_tax else _("of the whole price")
        facts.append((_("Commission"), f"{share} {base}"))
    return facts


def _terms_in_words() -> str:
    """What goods on sale or return are, in general."""
    return _(
        "On sale or return: the pieces belong to the studio until they are sold. The gallery keeps its commission of "
        "each sale and pays the rest to the studio."
    )


def note_document(studio: Studio, pk: int) -> Document:
    state = state_of(get_object_or_404(notes(), pk=pk))
    note = state.note
    frame = frame_for(studio, str(note), f"{note.gallery}, {day_in_words(note.on)}")
    return Document(f"consignment-{note.number}", frame, paper_of(state, studio))


NOTE = IssuedKind(
    "consignment",
    gettext_lazy("Consignment note"),
    note_document,
    lambda pk: reverse("costing:consignment", args=[pk]),
    readers=WORKERS,
    needs_money=True,
)
