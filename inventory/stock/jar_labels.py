"""Labels for jars and bottles: name, lot, day, use by, and the hazards on record of the material or of what is in it.

What a label must show by law, the supplier's label and local rules say; this one repeats what was typed in.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from studio.papers.frame import MM, SOFT_INK, Box, Sheet
from studio.papers.labels import LabelGrid, draw_labels, growth
from studio.papers.typography import TextStyle, fit, printable, wrap
from studio.translation import _

LOW = 26 * MM  # below it type is smaller, for five lines
MOST_HAZARD_LINES = 4
SMALLEST = 4.5  # points: a day is hard to read then, but whole


@dataclass(frozen=True, slots=True)
class JarLabel:
    """What is written on one jar, every text ready to print."""

    name: str
    lot: str
    made: str
    use_by: str = ""
    signal_word: str = ""
    hazards: str = ""


def draw_jar_labels(
    labels: Sequence[JarLabel],
    *,
    studio: str,
    grid: LabelGrid,
    start: int = 1,
    copies: int = 1,
    has_cut_lines: bool = False,
) -> bytes:
    """Return the labels as a PDF. Raises InputError as draw_labels does."""
    return draw_labels(
        [_drawing(label) for label in labels],
        grid,
        title=_("Jar labels, {studio}", studio=studio),
        author=studio,
        start=start,
        copies=copies,
        has_cut_lines=has_cut_lines,
    )


def _drawing(label: JarLabel) -> Callable[[Sheet, Box], None]:
    return lambda sheet, box: _draw(sheet, label, box)


def _draw(sheet: Sheet, label: JarLabel, box: Box) -> None:
    is_low, grown = box.height < LOW, growth(box)
    inset = (2 if is_low else 3.5) * MM
    name = TextStyle((7.5 if is_low else 11) * grown, bold=True)
    text = TextStyle((6.5 if is_low else 8) * grown)
    side = min(box.height - 2 * inset, (8.5 if is_low else 11) * MM * grown)
    left, right, top, bottom = box.left + inset, box.right - inset, box.top + inset, box.bottom - inset
    sheet.qr_code(label.lot, Box(right - side, top, right, top + side))
    beside, below = right - side - 1 * MM - left, right - left  # how wide a line may be
    titles = wrap(label.name, name, beside, 2)
    sheet.lines(left, top + 0.8 * name.size, titles, name, name.size * 1.1)
    y = top + len(titles) * name.size * 1.1
    for words, style in _lines(label, text, beside):
        if y < top + side and fit(words, style, beside)[0] != printable(words):
            y = top + side  # what is too long to stand beside the code stands under it, whole
        if y + style.size <= bottom:
            sheet.text(
                left, y + style.size, *fit(words, style, beside if y < top + side else below, SMALLEST)
            )
            y += style.size * 1.25
    small = TextStyle((6 if is_low else 6.5) * grown, colour=SOFT_INK)
    y = max(y, top + side)
    room = min(int((bottom - y) / (small.size * 1.2)), MOST_HAZARD_LINES)
    if label.hazards and room > 0:
        hazards = wrap(label.hazards, small, below, room)
        sheet.lines(left, y + small.size, hazards, small, small.size * 1.2)


def _lines(label: JarLabel, text: TextStyle, beside: float) -> list[tuple[str, TextStyle]]:
    """Which lot, since when, until when, and how dangerous; each with how it looks."""
    strong, both = text._replace(bold=True), f"{label.lot}, {label.made}"
    is_short = fit(both, text, beside)[0] == printable(both)
    own = [both] if is_short else [label.lot, label.made]
    lines = [(words, text) for words in own] + [(label.use_by, strong), (label.signal_word, strong)]
    return [(words, style) for words, style in lines if words]
