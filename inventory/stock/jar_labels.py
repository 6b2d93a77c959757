"""Labels for jars and bottles: name, lot, day, use by, and the hazards that the material's own record has.

What a label must show by law, the supplier's label and local rules say; this one repeats what was typed in.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from studio.papers.frame import MM, SOFT_INK, Box, Sheet
from studio.papers.labels import LabelGrid, draw_labels
from studio.papers.typography import TextStyle, fit, wrap
from studio.translation import _

LOW = 23 * MM  # below it there is room for three lines
MOST_HAZARD_LINES = 4


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
    is_low = box.height < LOW
    inset = (2 if is_low else 3.5) * MM
    name = TextStyle(8 if is_low else 11, bold=True)
    text = TextStyle(6.5 if is_low else 8)
    strong = text._replace(bold=True)
    side = min(box.height - 2 * inset, 11 * MM)
    left, right, bottom = box.left + inset, box.right - inset - side - 1 * MM, box.bottom - inset
    sheet.qr_code(
        label.lot, Box(box.right - inset - side, box.top + inset, box.right - inset, box.top + inset + side)
    )
    y = box.top + inset + 0.8 * name.size
    titles = wrap(label.name, name, right - left, 1 if is_low else 2)
    sheet.lines(left, y, titles, name, name.size * 1.15)
    y += len(titles) * name.size * 1.15
    for words, style in (
        (f"{label.lot}, {label.made}", text),
        (label.use_by, strong),
        (label.signal_word, strong),
    ):
        if words and y <= bottom:
            sheet.text(left, y, *fit(words, style, right - left))
            y += text.size * 1.3
    small = TextStyle(6 if is_low else 6.5, colour=SOFT_INK)
    room = min(int((bottom - y + small.size) / (small.size * 1.2)), MOST_HAZARD_LINES)
    if label.hazards and room > 0:
        sheet.lines(
            left, y, wrap(label.hazards, small, box.right - inset - left, room), small, small.size * 1.2
        )
