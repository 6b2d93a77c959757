"""Labels of pieces for sheets of stickers: price labels for a stall, wall labels for a gallery.

A price label has the title, the size, a price to be read across a stall, and the piece's number, as a QR code too: the
selling screen reads it. A wall label has what a visitor reads: title, year, medium, size, and the price where wanted.
"""

from collections.abc import Callable, Sequence
from enum import StrEnum

from costing.papers.price_list import PriceListRow, size_in_words
from studio.papers.frame import MM, SOFT_INK, Box, Sheet
from studio.papers.labels import GRIDS, LabelGrid, draw_labels, growth
from studio.papers.typography import ELLIPSIS, TextStyle, fit, text_width, wrap
from studio.translation import _

LEAST = 6.0  # points: words that are wider even then are cut
CLOSER, LEADING = 0.85, 1.25  # of the size of a title: tried before one is cut; from line to line
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
    is_tall, is_low, grown = box.height > TALL, box.height < LOW, growth(box)
    inset = (4 if is_tall else 2 if is_low else 3) * MM  # stickers feed a little askew
    title = TextStyle((10.5 if is_tall else 7.5 if is_low else 9) * grown, bold=True)
    detail = TextStyle((8.5 if is_tall else 6.5 if is_low else 7.5) * grown, colour=SOFT_INK)
    price = TextStyle((24 if is_tall else 14 if is_low else 20) * grown, bold=True)
    left, right, bottom = box.left + inset, box.right - inset, box.bottom - inset
    side = (11 if is_tall else 9) * MM * grown
    room = bottom - side - box.top - inset - (0 if is_low else detail.size)
    lines, title = _title(label.title, title, right - left, room)
    leading = title.size * LEADING
    baseline = box.top + inset + 0.8 * title.size
    sheet.lines(left, baseline, lines, title, leading)
    if not is_low:
        below = baseline + len(lines) * leading
        sheet.text(left, below, *fit(size_in_words(label), detail, right - left))
    if label.code:
        sheet.qr_code(label.code.partition("–")[0], Box(left, bottom - side, left + side, bottom))
    beside = left + side + 1 * MM
    code_line = bottom - price.size
    sheet.text(beside, code_line, *fit(label.code, detail, right - beside))
    sheet.text(right, bottom, *fit(label.price, price, right - beside), "right")


def _title(title: str, style: TextStyle, width: float, room: float) -> tuple[list[str], TextStyle]:
    """A title on one line or two, as there is room for them; smaller before it is cut."""
    closer = style._replace(size=CLOSER * style.size)
    for each in (style, closer):
        lines = wrap(title, each, width, 2)
        is_whole = not any(line.endswith(ELLIPSIS) for line in lines)
        if is_whole and len(lines) * each.size * LEADING <= room:
            return lines, each
    if room >= 2 * closer.size * LEADING:
        return wrap(title, closer, width, 2), closer
    words, style = fit(title, style, width)
    return [words], style


def _draw_wall(sheet: Sheet, label: PriceListRow, box: Box) -> None:
    inset = (4 if box.height > LOW else 2) * MM
    scale = growth(box) if box.height >= TALL else box.height / TALL
    title = TextStyle(12 * scale, bold=True)
    text = TextStyle(8.5 * scale)
    left, width = box.left + inset, box.width - 2 * inset
    y = box.top + inset + 0.8 * title.size
    room = box.height - 2 * inset - 2.7 * text.size - (title.size if label.price else 0)
    lines, heading = _title(label.title, title, width, room)
    sheet.lines(left, y, lines, heading, heading.size * LEADING)
    y += len(lines) * heading.size * LEADING
    for words in _of_what(label, text, width):
        sheet.text(left, y, *fit(words, text, width))
        y += text.size * 1.35
    if label.price:
        sheet.text(left + width, box.bottom - inset, *fit(label.price, title, width), "right")


def _of_what(label: PriceListRow, style: TextStyle, width: float) -> tuple[str, str]:
    """Medium and year, and the size; the year stands with the size where it would be cut off behind the medium."""
    medium, size = f"{label.medium}, {label.year}", size_in_words(label)
    if text_width(medium, style._replace(size=min(style.size, LEAST))) <= width:
        return medium, size
    return label.medium, f"{label.year}, {size}"
