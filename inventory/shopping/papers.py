"""The shopping list on paper: by supplier, with a box to tick."""

from collections.abc import Sequence
from dataclasses import dataclass

from studio.papers.frame import MM, SOFT_INK, Box, PageFrame, Paper, Sheet, fill_pages, paper_named
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


class _Block:
    """Something of a known height."""

    height = 0.0

    def draw(self, sheet: Sheet, y: float) -> None:
        raise NotImplementedError


class _Heading(_Block):
    def __init__(self, layout: _Layout, part: PaperPart) -> None:
        self.layout, self.part = layout, part
        self.height = layout.heading.size * 2.2

    def draw(self, sheet: Sheet, y: float) -> None:
        layout = self.layout
        baseline = y + self.height - layout.heading.size * 0.5
        sheet.text(layout.left, baseline, *fit(self.part.heading, layout.heading, layout.width))
        sheet.rule(layout.left, y + self.height, layout.width)


class _Row(_Block):
    def __init__(self, layout: _Layout, line: PaperLine) -> None:
        self.layout, self.line = layout, line
        self.name = wrap(line.name, layout.name, layout.text_width, 2)
        self.packs = wrap(line.packs, layout.text, layout.text_width, 2)
        self.reason = wrap(line.reason, layout.small, layout.text_width, 3)
        text = (len(self.name) + len(self.packs)) * layout.leading + len(self.reason) * layout.small_leading
        self.height = max(text, layout.tick) + 2 * layout.padding

    def draw(self, sheet: Sheet, y: float) -> None:
        layout, top = self.layout, y + self.layout.padding
        box = Box(layout.left, top, layout.left + layout.tick, top + layout.tick)
        sheet.box(box, fill=SOFT_INK if self.line.is_ticked else None)
        baseline = top + layout.name.size
        sheet.lines(layout.text_left, baseline, self.name, layout.name, layout.leading)
        price = fit(self.line.price, layout.text, layout.price_width)
        sheet.text(layout.right, baseline, *price, "right")
        baseline += len(self.name) * layout.leading
        sheet.lines(layout.text_left, baseline, self.packs, layout.text, layout.leading)
        baseline += len(self.packs) * layout.leading - (layout.leading - layout.small_leading)
        sheet.lines(layout.text_left, baseline, self.reason, layout.small, layout.small_leading)
        sheet.rule(layout.text_left, y + self.height, layout.right - layout.text_left)


class _Foot(_Block):
    def __init__(self, layout: _Layout, part: PaperPart) -> None:
        self.layout, self.part = layout, part
        self.notes = [line for note in part.notes for line in wrap(note, layout.small, layout.width, 3)]
        self.height = (
            len(part.sums) * layout.leading + len(self.notes) * layout.small_leading + 2 * layout.padding
        )

    def draw(self, sheet: Sheet, y: float) -> None:
        layout = self.layout
        baseline = y + layout.padding + layout.text.size
        for place, (term, amount) in enumerate(self.part.sums):
            style = layout.name if place == len(self.part.sums) - 1 else layout.text
            sheet.text(layout.text_left, baseline, *fit(term, style, layout.text_width))
            sheet.text(layout.right, baseline, *fit(amount, style, layout.price_width), "right")
            baseline += layout.leading
        sheet.lines(layout.text_left, baseline, self.notes, layout.small, layout.small_leading)


def draw_shopping_list(parts: Sequence[PaperPart], frame: PageFrame, *, paper: str | Paper = "A4") -> bytes:
    """Return the shopping list as a PDF on the paper named; one that is empty says so.

    Raises InputError when the paper is not known.
    """
    chosen = paper_named(paper)
    sheet = Sheet(chosen, title=f"{frame.title}, {frame.studio}", author=frame.studio)
    layout = _Layout(chosen)
    nothing = PaperPart(_("Nothing to buy"), [])
    blocks: list[_Block] = []
    for part in parts or [nothing]:
        rows: list[_Block] = [_Row(layout, line) for line in part.lines]
        heading: _Block = _Heading(layout, part)
        blocks += [_Together([heading, *rows[:1]]), *rows[1:]]
        if part.sums or part.notes:
            blocks.append(_Foot(layout, part))
    first, later = frame.body(chosen, first=True), frame.body(chosen, first=False)
    pages = fill_pages([block.height for block in blocks], first.height, later.height)
    for number, page in enumerate(pages, start=1):
        y = frame.draw(sheet, number, len(pages)).top
        for index in page:
            blocks[index].draw(sheet, y)
            y += blocks[index].height
        sheet.turn_page()
    return sheet.finish()


class _Together(_Block):
    """Blocks that stay on one page."""

    def __init__(self, blocks: Sequence[_Block]) -> None:
        self.blocks = blocks
        self.height = sum(block.height for block in blocks)

    def draw(self, sheet: Sheet, y: float) -> None:
        for block in self.blocks:
            block.draw(sheet, y)
            y += block.height
