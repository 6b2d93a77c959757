"""Price labels on sheets of die-cut stickers: title, size, a price to be read across a stall, and the piece's number,
as a QR code too: the selling screen reads it.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from costing.papers.price_list import PriceListRow
from studio.errors import InputError
from studio.papers.frame import MM, SOFT_INK, Box, Paper, Sheet, paper_named
from studio.papers.typography import TextStyle, fit, wrap
from studio.translation import _, pgettext

INCH = 72  # points


@dataclass(frozen=True)
class LabelSheet:
    """How labels lie on one paper, in points: centred on the page, with a gap between columns only."""

    paper: Paper
    across: int
    down: int
    width: float
    height: float
    column_gap: float

    @property
    def count(self) -> int:
        return self.across * self.down

    def box(self, position: int) -> Box:
        """Return the label at a position counted from 0, along the rows."""
        row, column = divmod(position, self.across)
        left_edge = (self.paper.width - self.across * self.width - (self.across - 1) * self.column_gap) / 2
        top_edge = (self.paper.height - self.down * self.height) / 2
        left = left_edge + column * (self.width + self.column_gap)
        top = top_edge + row * self.height
        return Box(left, top, left + self.width, top + self.height)


# From memory: 21 labels of 63.5 × 38.1 mm with gaps of 2.54 mm; 30 labels of 2⅝ × 1 in with gaps of ⅛ in.
LABEL_SHEETS = {
    "A4": LabelSheet(paper_named("A4"), 3, 7, 63.5 * MM, 38.1 * MM, column_gap=2.54 * MM),
    "US Letter": LabelSheet(paper_named("US Letter"), 3, 10, 2.625 * INCH, 1 * INCH, column_gap=0.125 * INCH),
}


def label_sheet_on(paper: str) -> LabelSheet:
    """Return how labels lie on the paper named; raises InputError when no label sheets have that size."""
    name = paper_named(paper).name
    if name not in LABEL_SHEETS:
        between = f" {pgettext('between choices', 'or')} "
        choices = between.join(
            _("{paper} ({count} labels)", paper=sheet.paper.name, count=sheet.count)
            for sheet in LABEL_SHEETS.values()
        )
        raise InputError(
            _("Label sheets are not available in {paper}. Choose {choices}.", paper=name, choices=choices),
            field="paper",
        )
    return LABEL_SHEETS[name]


def draw_price_labels(
    labels: Sequence[PriceListRow], *, studio: str, paper: str = "A4", start: int = 1
) -> bytes:
    """Return the labels as a PDF; start is the first free label of a part-used sheet, from 1 along the rows.

    Raises InputError when there is nothing to print, the paper has no label sheet, or start is not on it.
    """
    plan = label_sheet_on(paper)
    if not labels:
        raise InputError(_("Choose at least one piece to print labels for."), field="labels")
    if not 1 <= start <= plan.count:
        raise InputError(
            _("This sheet has labels 1 to {count}; start at one of those.", count=plan.count), field="start"
        )
    sheet = Sheet(plan.paper, title=_("Price labels, {studio}", studio=studio), author=studio)
    sheet.at_actual_size()
    for number, label in enumerate(labels, start=start - 1):
        position = number % plan.count
        if position == 0 and number > 0:
            sheet.turn_page()
        _draw_label(sheet, label, plan.box(position))
    return sheet.finish()


def _draw_label(sheet: Sheet, label: PriceListRow, box: Box) -> None:
    tall = box.height > 30 * MM
    inset = 4 * MM if tall else 3 * MM  # stickers feed a little askew
    title = TextStyle(10.5 if tall else 9, bold=True)
    detail = TextStyle(8.5 if tall else 7.5, colour=SOFT_INK)
    price = TextStyle(24 if tall else 20, bold=True)
    left, right, bottom = box.left + inset, box.right - inset, box.bottom - inset
    lines = wrap(label.title, title, right - left, 2 if tall else 1)
    baseline = box.top + inset + 0.8 * title.size
    sheet.lines(left, baseline, lines, title, title.size + 2.5)
    below = baseline + len(lines) * (title.size + 2.5)
    size = _("{size} (H × W)", size=label.size_cm) if "×" in label.size_cm else label.size_cm
    said = f"{size}, {label.note}" if label.note else size
    sheet.text(left, below, *fit(said, detail, right - left))
    side = 11 * MM if tall else 9 * MM
    if label.code:
        sheet.qr_code(label.code.partition("–")[0], Box(left, bottom - side, left + side, bottom))
    beside = left + side + 1 * MM
    code_line = bottom - price.size
    sheet.text(beside, code_line, *fit(label.code, detail, right - beside))
    sheet.text(right, bottom, *fit(label.price, price, right - beside), "right")
