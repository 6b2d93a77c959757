"""A certificate for the buyer of a piece, with how to care for it: no price, no cost.

The care is what is usual for acrylic paintings (common practice, no source); it promises nothing about permanence.
"""

from django.http import Http404
from django.urls import reverse
from django.utils.text import capfirst
from django.utils.translation import gettext_lazy

from costing.papers.queries import medium_of, sizes_in_cm, sizes_in_inches
from costing.pieces.models import Piece
from costing.pieces.queries import with_parts
from studio.issued.kinds import IssuedKind
from studio.papers.lines import Document, LinesPaper
from studio.preferences.formatting import Formatter
from studio.preferences.frames import frame_for
from studio.preferences.models import Studio
from studio.translation import _


def certificate_of(piece: Piece, studio: Studio, *, decimal_comma: bool) -> LinesPaper:
    """What is certified of a piece, and how it is cared for. The piece has its pours read."""
    sizes = " / ".join(
        write(piece.pours, decimal_comma=decimal_comma) for write in (sizes_in_cm, sizes_in_inches)
    )
    facts = [
        (_("Title"), piece.title),
        (_("Medium"), medium_of(piece)),
        (_("Size, height × width"), sizes),
        (_("Year"), str(piece.shown_year)),
        (_("Series"), piece.place_in_series),
        (_("Edition"), piece.edition),
        (_("Set"), capfirst(piece.set_in_words)),
        (_("Number on the back"), piece.label),
        (_("Created by"), studio.name),
    ]
    return LinesPaper(
        addresses=(),
        facts=[(term, text) for term, text in facts if text],
        notes="\n".join(care()),
        notes_head=_("Care"),
        signatures=[_("Signature"), _("Day")],
    )


def care() -> list[str]:
    """What a buyer should know, one sentence or two each."""
    return [
        _("Dust it with a soft, dry cloth. Use no water and no cleaner."),
        _("Keep it out of direct sun, damp and heat. Do not lean anything against the painted side."),
        _("It is decorative: not made for food or drink to touch it."),
        _("Hot cups and plates soften acrylic paint, varnish and resin, and leave marks."),
        _("Hooks, felts and other small parts are not for young children."),
    ]


def certificate_document(studio: Studio, pk: int) -> Document:
    found = list(with_parts(Piece.objects.filter(pk=pk)))
    if not found:
        raise Http404
    lines = certificate_of(found[0], studio, decimal_comma=Formatter.of(studio).decimal_comma)
    return Document(f"certificate-{found[0].number}", frame_for(studio, _("Certificate")), lines)


CERTIFICATE = IssuedKind(
    "certificate",
    gettext_lazy("Certificate"),
    certificate_document,
    lambda pk: reverse("costing:piece", args=[pk]),
)
