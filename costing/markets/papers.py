"""The packing list of a market day on paper: by box, with a mark to tick for going out and one for coming home."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from studio.papers.blocks import Block, draw_pages, shared_over_pages, together
from studio.papers.frame import MM, Box, PageFrame, Paper, Sheet, paper_named
from studio.papers.typography import TextStyle, fit, wrap
from studio.translation import _, ngettext

TICK, GAP, ROW_PADDING = 5 * MM, 3 * MM, 1.8 * MM
NUMBER_SHARE, PRICE_SHARE = 0.16, 0.16  # of the width


@dataclass(frozen=True, slots=True)
class PackingLine:
    """One piece, every text ready to print; the price may be left out."""

    number: str
    title: str
    price: str = ""


@dataclass(frozen=True, slots=True)
class PackingBox:
    """A box and what is in it."""

    name: str
    lines: Sequence[PackingLine]


class _Layout:
    def __init__(self, paper: Paper) -> None:
        scale = paper.scale
        self.left, self.right = paper.margin, paper.width - paper.margin
        self.width = self.right - self.left
        self.heading = TextStyle(13 * scale, bold=True)
        self.text, self.small = TextStyle(10.5 * scale), TextStyle(8.5 * scale)
        self.leading = 13.5 * scale
        self.tick, self.gap, self.padding = TICK * scale, GAP * scale, ROW_PADDING * scale
        self.out = self.left
        self.home = self.left + self.tick + self.gap
        self.number = self.home + self.tick + self.gap
        self.title = self.number + self.width * NUMBER_SHARE
        self.title_width = self.right - self.width * PRICE_SHARE - self.gap - self.title

    def blocks(self, box: PackingBox) -> list[Block]:
        """The name of a box stands over its first row, and again where it goes on on another page."""
        heading, rows = self._heading(box), [self._row(line) for line in box.lines]
        return [together(heading, *rows[:1]), *(replace(row, again=heading) for row in rows[1:])]

    def _heading(self, box: PackingBox) -> Block:
        """The name of a box, how many pieces are in it, and what its two marks mean."""
        count, height = len(box.lines), self.heading.size * 2 + self.leading
        words = ngettext("{box}: {count} piece", "{box}: {count} pieces", count, box=box.name, count=count)
        marks = _("First mark: packed. Second mark: back home.")

        def draw(sheet: Sheet, y: float) -> None:
            baseline = y + self.heading.size * 1.6
            sheet.text(self.left, baseline, *fit(words, self.heading, self.width))
            sheet.text(self.left, baseline + self.leading, *fit(marks, self.small, self.width))
            sheet.rule(self.left, y + height, self.width)

        return Block(height, draw)

    def _row(self, line: PackingLine) -> Block:
        """Two marks to tick, the number, the title and the price."""
        title = wrap(line.title, self.text, self.title_width, 2)
        height = max(len(title) * self.leading, self.tick) + 2 * self.padding

        def draw(sheet: Sheet, y: float) -> None:
            top = y + self.padding
            for left in (self.out, self.home):
                sheet.box(Box(left, top, left + self.tick, top + self.tick))
            baseline = top + self.text.size
            number = fit(line.number, self.text, self.width * NUMBER_SHARE - self.gap)
            sheet.text(self.number, baseline, *number)
            sheet.lines(self.title, baseline, title, self.text, self.leading)
            price = fit(line.price, self.text, self.width * PRICE_SHARE)
            sheet.text(self.right, baseline, *price, "right")
            sheet.rule(self.number, y + height, self.right - self.number)

        return Block(height, draw)

    def nothing(self) -> Block:
        """Says that nothing is packed, and what to do."""
        what_to_do = _("Choose on the page of the market day what goes along, then print this list again.")
        lines = wrap(what_to_do, self.text, self.width, 3)

        def draw(sheet: Sheet, y: float) -> None:
            baseline = y + self.heading.size * 1.6
            sheet.text(self.left, baseline, *fit(_("Nothing packed yet"), self.heading, self.width))
            sheet.lines(self.left, baseline + 1.4 * self.leading, lines, self.text, self.leading)

        return Block(self.heading.size * 2 + len(lines) * self.leading, draw)


def draw_packing_list(boxes: Sequence[PackingBox], frame: PageFrame, *, paper: str | Paper = "A4") -> bytes:
    """Return the packing list as a PDF on the paper named; one that is empty says so.

    Raises InputError when the paper is not known.
    """
    chosen = paper_named(paper)
    layout = _Layout(chosen)
    blocks = [block for box in boxes for block in layout.blocks(box)] or [layout.nothing()]
    pages = shared_over_pages(blocks, frame, chosen)
    return draw_pages(blocks, pages, frame, chosen, title=f"{frame.title}, {frame.studio}")
