"""What is asked before a piece is sold that is not in the studio: somebody else may be selling it, or has it."""

from collections.abc import Sequence

from costing.locations.queries import LENT, Whereabouts, where_are
from costing.pieces.models import Piece
from costing.pricing.models import SalesChannel
from inventory.errors import day_in_words
from studio.errors import Question
from studio.translation import _


def questions_about_places(pieces: Sequence[Piece], channel: SalesChannel) -> dict[int, Question]:
    """What should be confirmed of pieces that are lent, or at a gallery that sells through another channel."""
    asked = {}
    for piece, where in zip(pieces, where_are(pieces).values(), strict=True):
        words = _in_words(piece, where, channel)
        if words:
            place = where.placement.pk if where.placement else None
            asked[piece.pk] = Question("elsewhere", words, ("piece", piece.pk, place, channel.name))
    return asked


def _in_words(piece: Piece, where: Whereabouts, channel: SalesChannel) -> str:
    """The question, which is kept in the posting: it names no person."""
    if where.since is None:
        return ""
    facts = {"title": piece.title, "day": day_in_words(where.since)}
    if where.kind == LENT:
        return _("“{title}” has been lent since {day}.", **facts)
    if where.location is None or not where.location.is_gallery or where.location.channel_id == channel.pk:
        return ""
    return _(
        "“{title}” has been at “{place}” since {day}. If it was sold through “{channel}” instead, tell the gallery.",
        place=where.location.name,
        channel=channel.name,
        **facts,
    )
