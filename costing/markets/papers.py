"""The packing list of a market day on paper: by box, with a mark to tick for going out and one for coming home."""

from collections.abc import Sequence
from dataclasses import dataclass

from studio.papers.frame import MM, Box, PageFrame, Paper, Sheet, fill_pages, paper_named
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


class _Block:
    """Something of a known height."""

    height = 0.0

    def draw(self, sheet: Sheet, y: float) -> None:
        raise NotImplementedError


class _Heading(_Block):
    """The name of a box, how many pieces are in it, and what its two marks mean."""

    def __init__(self, layout: _Layout, box: PackingBox) -> None:
        self.layout, self.box = layout, box
        self.height = layout.heading.size * 2 + layout.leading

    def draw(self, sheet: Sheet, y: float) -> None:
        layout, count = self.layout, len(self.box.lines)
        words = ngettext(
            "{box}: {count} piece", "{box}: {count} pieces", count, box=self.box.name, count=count
        )
        baseline = y + layout.heading.size * 1.6
        sheet.text(layout.left, baseline, *fit(words, layout.heading, layout.width))
        below = baseline + layout.leading
        marks = _("First mark: packed. Second mark: back home.")
        sheet.text(layout.left, below, *fit(marks, layout.small, layout.width))
        sheet.rule(layout.left, y + self.height, layout.width)


class _Row(_Block):
    """Two marks to tick, the number, the title and the price."""

    def __init__(self, layout: _Layout, line: PackingLine) -> None:
        self.layout, self.line = layout, line
        self.title = wrap(line.title, layout.text, layout.title_width, 2)
        self.height = max(len(self.title) * layout.leading, layout.tick) + 2 * layout.padding

    def draw(self, sheet: Sheet, y: float) -> None:
        layout, top = self.layout, y + self.layout.padding
        for left in (layout.out, layout.home):
            sheet.box(Box(left, top, left + layout.tick, top + layout.tick))
        baseline = top + layout.text.size
        number = fit(self.line.number, layout.text, layout.width * NUMBER_SHARE - layout.gap)
        sheet.text(layout.number, baseline, *number)
        sheet.lines(layout.title, baseline, self.title, layout.text, layout.leading)
        price = fit(self.line.price, layout.text, layout.width * PRICE_SHARE)
        sheet.text(layout.right, baseline, *price, "right")
        sheet.rule(layout.number, y + self.height, layout.right - layout.number)


class _Together(_Block):
    """A heading and its first row, which stay on one page."""

    def __init__(self, heading: _Heading, rows: Sequence[_Row]) -> None:
        self.blocks: list[_Block] = [heading, *rows]
        self.height = sum(block.height for block in self.blocks)

    def draw(self, sheet: Sheet, y: float) -> None:
        for block in self.blocks:
            block.draw(sheet, y)
            y += block.height


def draw_packing_list(boxes: Sequence[PackingBox], frame: PageFrame, *, paper: str | Paper = "A4") -> bytes:
    """Return the packing list as a PDF on the paper named; one that is empty says so.

    Raises InputError when the paper is not known.
    """
    chosen = paper_named(paper)
    sheet = Sheet(chosen, title=f"{frame.title}, {frame.studio}", author=frame.studio)
    layout = _Layout(chosen)
    blocks: list[_Block] = []
    for box in boxes or [PackingBox(_("Nothing packed yet"), [])]:
        rows = [_Row(layout, line) for line in box.lines]
        blocks += [_Together(_Heading(layout, box), rows[:1]), *rows[1:]]
    first, later = frame.body(chosen, first=True), frame.body(chosen, first=False)
    pages = fill_pages([block.height for block in blocks], first.height, later.height)
    for number, page in enumerate(pages, start=1):
        y = frame.draw(sheet, number, len(pages)).top
        for index in page:
            blocks[index].draw(sheet, y)
            y += blocks[index].height
        sheet.turn_page()
    return sheet.finish()
