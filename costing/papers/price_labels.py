"""Labels of pieces for sheets of stickers: price labels for a stall, wall labels for a gallery.

A price label has the title, the size, a price to be read across a stall, and the piece's number, as a QR code too: the
selling screen reads it. A wall label has what a visitor reads: title, year, medium, size, and the price where wanted.
"""

from collections.abc import Callable, Sequence
from enum import StrEnum

from costing.papers.price_list import PriceListRow, size_in_words
from studio.papers.frame import MM, SOFT_INK, Box, Sheet
from studio.papers.labels import GRIDS, LabelGrid, draw_labels
from studio.papers.typography import TextStyle, fit, wrap
from studio.translation import _

TALL, LOW = 30 * MM, 23 * MM  # from here up there is room for a title of two lines; below, for no size


class LabelKind(StrEnum):
    """What a label is for."""

    PRICE = "price"
    WALL = "wall"


def draw_price_labels(
    labels: Sequence[PriceListRow],
    *,
    studio: str,
    grid: LabelGrid = GRIDS["a4-21"],
    kind: LabelKind = LabelKind.PRICE,
    start: int = 1,
    copies: int = 1,
    has_cut_lines: bool = False,
) -> bytes:
    """Return the labels as a PDF. Raises InputError as draw_labels does."""
    draw = {LabelKind.PRICE: _draw_price, LabelKind.WALL: _draw_wall}[kind]
    return draw_labels(
        [_drawing(draw, label) for label in labels],
        grid,
        title=_("Price labels, {studio}", studio=studio),
        author=studio,
        start=start,
        copies=copies,
        has_cut_lines=has_cut_lines,
    )


def _drawing(
    draw: Callable[[Sheet, PriceListRow, Box], None], label: PriceListRow
) -> Callable[[Sheet, Box], None]:
    return lambda sheet, box: draw(sheet, label, box)


def _draw_price(sheet: Sheet, label: PriceListRow, box: Box) -> None:
    is_tall, is_low = box.height > TALL, box.height < LOW
    inset = (4 if is_tall else 2 if is_low else 3) * MM  # stickers feed a little askew
    title = TextStyle(10.5 if is_tall else 7.5 if is_low else 9, bold=True)
    detail = TextStyle(8.5 if is_tall else 6.5 if is_low else 7.5, colour=SOFT_INK)
    price = TextStyle(24 if is_tall else 14 if is_low else 20, bold=True)
    left, right, bottom = box.left + inset, box.right - inset, box.bottom - inset
    lines = wrap(label.title, title, right - left, 2 if is_tall else 1)
    baseline = box.top + inset + 0.8 * title.size
    sheet.lines(left, baseline, lines, title, title.size + 2.5)
    if not is_low:
        below = baseline + len(lines) * (title.size + 2.5)
        sheet.text(left, below, *fit(size_in_words(label), detail, right - left))
    side = (11 if is_tall else 9) * MM
    if label.code:
        sheet.qr_code(label.code.partition("–")[0], Box(left, bottom - side, left + side, bottom))
    beside = left + side + 1 * MM
    code_line = bottom - price.size
    sheet.text(beside, code_line, *fit(label.code, detail, right - beside))
    sheet.text(right, bottom, *fit(label.price, price, right - beside), "right")


def _draw_wall(sheet: Sheet, label: PriceListRow, box: Box) -> None:
    inset = (4 if box.height > LOW else 2) * MM
    scale = min(1.0, box.height / TALL)
    title = TextStyle(12 * scale, bold=True)
    text = TextStyle(8.5 * scale)
    left, width = box.left + inset, box.width - 2 * inset
    y = box.top + inset + 0.8 * title.size
    lines = wrap(label.title, title, width, 2 if box.height > TALL else 1)
    sheet.lines(left, y, lines, title, title.size * 1.2)
    y += len(lines) * title.size * 1.2
    for words in (f"{label.medium}, {label.year}", size_in_words(label)):
        sheet.text(left, y, *fit(words, text, width))
        y += text.size * 1.35
    if label.price:
        sheet.text(left + width, box.bottom - inset, *fit(label.price, title, width), "right")
