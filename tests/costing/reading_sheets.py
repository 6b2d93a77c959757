"""Reading a cost sheet: what its materials come to, and every colour on it that was mixed from others."""

from collections.abc import Iterator

from costing.cost_sheets.queries import cost_sheet
from costing.cost_sheets.sources import Source
from costing.pieces.models import Piece


def materials_of(piece: Piece) -> int:
    return cost_sheet(piece).summary.materials


def tree(sources: tuple[Source, ...]) -> Iterator[Source]:
    """Every source that was mixed from others, however deep."""
    for source in sources:
        if source.through:
            yield source
            yield from tree(source.through)
