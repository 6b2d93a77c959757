"""The shopping list on paper: by supplier, with a box to tick."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from studio.papers.blocks import Block, draw_pages, shared_over_pages, together
from studio.papers.frame import MM, SOFT_INK, Box, PageFrame, Paper, Sheet, paper_named
from studio.papers.typography import TextStyle, fit, wrap
from studio.translation import _

ROW_PADDING = 2.2 * MM
TICK = 5 * MM
GAP = 3 * MM


@dataclass(frozen=True, slots=True)
class PaperLine:
    """One thing to buy, every text ready to print; the price may be left out."""

    packs: str
    name: str
    reason: str = ""
    price: str = ""
    is_ticked: bool = False


@dataclass(frozen=True, slots=True)
class PaperPart:
    """What to buy in one place, its sum, and what to know of it."""

    heading: str
    lines: Sequence[PaperLine]
    sums: Sequence[tuple[str, str]] = ()
    notes: Sequence[str] = ()


class _Layout:
    def __init__(self, paper: Paper) -> None:
        scale = paper.scale
        self.left, self.right = paper.margin, paper.width - paper.margin
        self.width = self.right - self.left
        self.heading = TextStyle(14 * scale, bold=True)
        self.name = TextStyle(11 * scale, bold=True)
        self.text = TextStyle(10.5 * scale)
        self.small = TextStyle(8.5 * scale, colour=SOFT_INK)
        self.leading, self.small_leading = 14 * scale, 11.5 * scale
        self.padding, self.gap, self.tick = ROW_PADDING * scale, GAP * scale, TICK * scale
        self.price_width = self.width * 0.2
        self.text_left = self.left + self.tick + self.gap
        self.text_width = self.right - self.text_left - self.price_width - self.gap

    def blocks(self, part: PaperPart) -> list[Block]:
        """Whose part it is stands over its first row, and again where it goes on on another page."""
        heading = self._heading(part.heading)
        rows = [self._row(line) for line in part.lines]
        if part.sums or part.notes:
            rows.append(self._foot(part))
        return [together(heading, *rows[:1]), *(replace(row, again=heading) for row in rows[1:])]

    def _heading(self, heading: str) -> Block:
        height = self.heading.size * 2.2

        def draw(sheet: Sheet, y: float) -> None:
            baseline = y + height - self.heading.size * 0.5
            sheet.text(self.left, baseline, *fit(heading, self.heading, self.width))
            sheet.rule(self.left, y + height, self.width)

        return Block(height, draw)

    def _row(self, line: PaperLine) -> Block:
        names = wrap(line.name, self.name, self.text_width, 2)
        packs = wrap(line.packs, self.text, self.text_width, 2)
        reasons = wrap(line.reason, self.small, self.text_width, 3)
        text = (len(names) + len(packs)) * self.leading + len(reasons) * self.small_leading
        height = max(text, self.tick) + 2 * self.padding

        def draw(sheet: Sheet, y: float) -> None:
            top = y + self.padding
            box = Box(self.left, top, self.left + self.tick, top + self.tick)
            sheet.box(box, fill=SOFT_INK if line.is_ticked else None)
            baseline = top + self.name.size
            sheet.lines(self.text_left, baseline, names, self.name, self.leading)
            sheet.text(self.right, baseline, *fit(line.price, self.text, self.price_width), "right")
            baseline += len(names) * self.leading
            sheet.lines(self.text_left, baseline, packs, self.text, self.leading)
            baseline += len(packs) * self.leading - (self.leading - self.small_leading)
            sheet.lines(self.text_left, baseline, reasons, self.small, self.small_leading)
            sheet.rule(self.text_left, y + height, self.right - self.text_left)

        return Block(height, draw)

    def _foot(self, part: PaperPart) -> Block:
        notes = [line for note in part.notes for line in wrap(note, self.small, self.width, 3)]

        def draw(sheet: Sheet, y: float) -> None:
            baseline = y + self.padding + self.text.size
            for place, (term, amount) in enumerate(part.sums):
                style = self.name if place == len(part.sums) - 1 else self.text
                sheet.text(self.text_left, baseline, *fit(term, style, self.text_width))
                sheet.text(self.right, baseline, *fit(amount, style, self.price_width), "right")
                baseline += self.leading
            sheet.lines(self.text_left, baseline, notes, self.small, self.small_leading)

        height = len(part.sums) * self.leading + len(notes) * self.small_leading + 2 * self.padding
        return Block(height, draw)


def draw_shopping_list(parts: Sequence[PaperPart], frame: PageFrame, *, paper: str | Paper = "A4") -> bytes:
    """Return the shopping list as a PDF on the paper named; one that is empty says so.

    Raises InputError when the paper is not known.
    """
    chosen = paper_named(paper)
    layout = _Layout(chosen)
    shown = parts or [PaperPart(_("Nothing to buy"), [])]
    blocks = [block for part in shown for block in layout.blocks(part)]
    pages = shared_over_pages(blocks, frame, chosen)
    return draw_pages(blocks, pages, frame, chosen, title=f"{frame.title}, {frame.studio}")
