"""The stocktake sheet: every lot of a shelf, with a box for what was found and one for a weight."""

from collections.abc import Sequence

from inventory.ledger.models import Lot
from inventory.stock import counting
from studio.papers.lines import BLANK, Line, LinesPaper
from studio.preferences.formatting import Formatter
from studio.translation import _


def stocktake_sheet(
    lots: Sequence[Lot], formatter: Formatter, *, where: str, shows_expected: bool
) -> LinesPaper:
    """Without what is expected unless it is asked for: whoever counts should not count towards a figure."""
    heads, shares = [_("Found"), _("or weight now")], [0.2, 0.2]
    if shows_expected:
        heads, shares = [_("Expected"), *heads], [0.16, *shares]
    return LinesPaper(
        addresses=(),
        facts=[(_("Shelf"), where), (_("Day"), BLANK), (_("By"), BLANK)],
        name_head=_("Material, lot"),
        heads=heads,
        shares=shares,
        lines=[_line(lot, formatter, shows_expected=shows_expected) for lot in lots],
        is_compact=True,
    )


def _line(lot: Lot, formatter: Formatter, *, shows_expected: bool) -> Line:
    expected = formatter.quantity(counting.expected(lot), lot.material.measure)
    figures = [expected, BLANK, BLANK] if shows_expected else [BLANK, BLANK]
    return Line(lot.material.name, ", ".join(filter(None, [lot.label, lot.place])), figures)
