"""A paper of lines: to whom, from whom, a few facts, the lines with their figures, a total, notes, signatures."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Literal

from studio.papers.frame import SOFT_INK, Box, PageFrame, Paper, Sheet, fill_pages, paper_named
from studio.papers.typography import TextStyle, fit, wrap
from studio.translation import _

MOST_ADDRESS_LINES = 8
MOST_NOTE_LINES = 12
BLANK = "_"  # a figure to be written in by hand
COMPACT = 0.9  # of the size of type
SIZES = (1, COMPACT, 0.82)  # tried in turn where that saves a page with next to nothing on it
NEXT_TO_NOTHING = 0.25  # of a page
BLANK_HEIGHT = 22.0  # points on A4: enough to write by hand


@dataclass(frozen=True, slots=True)
class Line:
    """One line, every text ready to print; as many `figures` as the paper has heads for them.

    A heading stands over the lines that follow, a sum closes those before it.
    """

    name: str
    detail: str
    figures: Sequence[str]
    kind: Literal["line", "heading", "sum"] = "line"


@dataclass(frozen=True, slots=True)
class LinesPaper:
    """Everything on the paper. Addresses are a heading and their lines, `facts` pairs of a term and its text.

    `heads` stand over the figures, each with its share of the width in `shares`; `signatures` under a rule each.
    `sums` lead from the lines to the total, `after` tells of it: pairs of a term and an amount. A `compact` one has
    many lines: they stand closer.
    """

    addresses: Sequence[tuple[str, Sequence[str]]]
    facts: Sequence[tuple[str, str]]
    name_head: str = ""
    heads: Sequence[str] = ()
    shares: Sequence[float] = ()
    lines: Sequence[Line] = ()
    sums: Sequence[tuple[str, str]] = ()
    total: str = ""
    after: Sequence[tuple[str, str]] = ()
    notes: str = ""
    is_compact: bool = False
    notes_head: str = ""
    signatures: Sequence[str] = ()


@dataclass(frozen=True, slots=True)
class Document:
    """A paper of lines in its frame, and what its file is called."""

    name: str
    frame: PageFrame
    lines: LinesPaper

    def draw(self, paper: str | Paper) -> bytes:
        return draw_lines(self.lines, self.frame, paper=paper)


@dataclass(frozen=True, slots=True)
class _Block:
    """Something of a known height, in points, that is drawn from a place downwards."""

    height: float
    draw: Callable[[Sheet, float], None]
    is_line: bool = False


class _Layout:
    """The parts of the paper in blocks; a line is never torn in two."""

    def __init__(self, paper: Paper, body: Box, shares: Sequence[float], size: float) -> None:
        scale, is_compact = paper.scale * size, size < 1
        self.scale = scale
        self.left, self.width, self.right = body.left, body.width, body.right
        self.text = TextStyle(10 * scale)
        self.strong = TextStyle(10 * scale, bold=True)
        self.total = TextStyle(12 * scale, bold=True)
        self.small = TextStyle(8.5 * scale, colour=SOFT_INK)
        self.leading, self.gap = 13.5 * scale, 8 * scale
        self.padding = (4 if is_compact else 10) * scale
        self.heading_height = self.leading * (2.2 if is_compact else 2.6)
        self.columns = [self.width * share for share in shares]
        self.name_width = self.width - sum(self.columns) - self.gap

    def blocks(self, paper: LinesPaper) -> list[_Block]:
        blocks = [self._side_by_side(paper.addresses)] if paper.addresses else []
        blocks.append(self._facts(paper.facts))
        if paper.lines:
            blocks.append(self.heads(paper.name_head, paper.heads))
        blocks += self._lines(paper.lines)
        if paper.sums:
            blocks.append(self._amounts(paper.sums))
        if paper.total:
            blocks.append(self._total(paper.total))
        if paper.after:
            blocks.append(self._amounts(paper.after))
        if paper.notes:
            blocks.append(self._notes(paper.notes_head or _("Notes"), paper.notes))
        if paper.signatures:
            signed = self._signatures(paper.signatures)
            blocks.append(_together(blocks.pop(), signed) if paper.notes else signed)
        return blocks

    def _lines(self, lines: Sequence[Line]) -> list[_Block]:
        """A heading stays with the line under it, and what a line comes to with that line."""
        blocks: list[_Block] = []
        heading: _Block | None = None
        for line in lines:
            if line.kind == "heading":
                blocks += [heading] if heading else []
                heading = self._heading(line)
                continue
            block = self._line(line)
            if heading:
                block, heading = _together(heading, block), None
            elif line.kind == "sum" and blocks:
                block = _together(blocks.pop(), block)
            blocks.append(block)
        return [*blocks, heading] if heading else blocks

    def _side_by_side(self, addresses: Sequence[tuple[str, Sequence[str]]]) -> _Block:
        width = (self.width - self.gap * (len(addresses) - 1)) / len(addresses)
        shown = [
            (
                heading,
                [part for line in lines for part in wrap(line, self.text, width, 2)][:MOST_ADDRESS_LINES],
            )
            for heading, lines in addresses
        ]
        height = self.leading * (2.4 + max(len(lines) for _heading, lines in shown))

        def draw(sheet: Sheet, y: float) -> None:
            for place, (heading, lines) in enumerate(shown):
                x = self.left + place * (width + self.gap)
                baseline = y + self.leading * 1.1
                sheet.text(x, baseline, *fit(heading, self.small, width))
                sheet.lines(x, baseline + self.leading, lines, self.text, self.leading)

        return _Block(height, draw)

    def _facts(self, facts: Sequence[tuple[str, str]]) -> _Block:
        term_width = self.width * 0.3

        def draw(sheet: Sheet, y: float) -> None:
            for place, (term, text) in enumerate(facts, start=1):
                baseline = y + place * self.leading
                sheet.text(self.left, baseline, *fit(term, self.small, term_width - self.gap))
                sheet.text(self.left + term_width, baseline, *fit(text, self.strong, self.width - term_width))

        return _Block(self.leading * (len(facts) + 1.2), draw)

    def heads(self, name_head: str, heads: Sequence[str]) -> _Block:
        def draw(sheet: Sheet, y: float) -> None:
            baseline = y + self.small.size
            sheet.text(self.left, baseline, *fit(name_head, self.small, self.name_width))
            for head, right, width in zip(heads, self._rights(), self.columns, strict=True):
                sheet.text(right, baseline, *fit(head, self.small, width - self.gap), "right")
            sheet.rule(self.left, y + 13 * self.scale, self.width)

        return _Block(13 * self.scale, draw)

    def _rights(self) -> list[float]:
        """Where each column of figures ends."""
        return [self.right - sum(self.columns[place + 1 :]) for place in range(len(self.columns))]

    def _heading(self, line: Line) -> _Block:
        def draw(sheet: Sheet, y: float) -> None:
            below = y + self.heading_height
            sheet.text(self.left, below - 0.6 * self.leading, *fit(line.name, self.total, self.width))
            sheet.rule(self.left, below, self.width)

        return _Block(self.heading_height, draw)

    def _line(self, line: Line) -> _Block:
        figure_style = self.strong if line.kind == "sum" else self.text
        names = wrap(line.name, self.strong, self.name_width, 3)
        details = wrap(line.detail, self.small, self.name_width, 2)
        height = (len(names) * self.leading) + len(details) * self.small.size * 1.3 + self.padding
        has_blank = BLANK in line.figures
        height = max(height, BLANK_HEIGHT * self.scale) if has_blank else height

        def draw(sheet: Sheet, y: float) -> None:
            baseline = y + 0.4 * self.padding + self.text.size
            sheet.lines(self.left, baseline, names, self.strong, self.leading)
            below = baseline + (len(names) - 1) * self.leading + self.small.size * 1.3
            sheet.lines(self.left, below, details, self.small, self.small.size * 1.3)
            for figure, right, width in zip(line.figures, self._rights(), self.columns, strict=True):
                if figure == BLANK:
                    inset = 2 * self.scale
                    sheet.box(Box(right - width + self.gap, y + inset, right, y + height - inset))
                else:
                    sheet.text(right, baseline, *fit(figure, figure_style, width - self.gap), "right")
            sheet.rule(self.left, y + height, self.width)

        return _Block(height, draw, is_line=True)

    def _amounts(self, amounts: Sequence[tuple[str, str]]) -> _Block:
        def draw(sheet: Sheet, y: float) -> None:
            for place, (term, amount) in enumerate(amounts, start=1):
                baseline = y + place * self.leading + 2 * self.scale
                sheet.text(self.left, baseline, *fit(term, self.text, self.width * 0.66))
                sheet.text(self.right, baseline, *fit(amount, self.text, self.width * 0.3), "right")

        return _Block(self.leading * (len(amounts) + 0.4), draw)

    def _total(self, total: str) -> _Block:
        def draw(sheet: Sheet, y: float) -> None:
            baseline = y + 8 * self.scale + self.total.size
            sheet.text(self.left, baseline, *fit(_("Total"), self.total, self.width * 0.4))
            sheet.text(self.right, baseline, *fit(total, self.total, self.width * 0.5), "right")

        return _Block(self.total.size + 20 * self.scale, draw)

    def _notes(self, head: str, notes: str) -> _Block:
        lines = [part for line in notes.splitlines() for part in wrap(line, self.text, self.width, 4)]
        lines = lines[:MOST_NOTE_LINES]

        def draw(sheet: Sheet, y: float) -> None:
            sheet.text(self.left, y + self.leading, *fit(head, self.small, self.width))
            sheet.lines(self.left, y + 2 * self.leading, lines, self.text, self.leading)

        return _Block((len(lines) + 2) * self.leading, draw)

    def _signatures(self, signatures: Sequence[str]) -> _Block:
        width = (self.width - self.gap * (len(signatures) - 1)) / len(signatures)

        def draw(sheet: Sheet, y: float) -> None:
            for place, words in enumerate(signatures):
                x = self.left + place * (width + self.gap)
                sheet.rule(x, y + 4 * self.leading, width)
                sheet.text(x, y + 5 * self.leading, *fit(words, self.small, width))

        return _Block(6 * self.leading, draw)


def draw_lines(lines: LinesPaper, frame: PageFrame, *, paper: str | Paper = "A4") -> bytes:
    """Return it as a PDF on the paper named. Raises InputError when the paper is not known."""
    chosen = paper_named(paper)
    sheet = Sheet(chosen, title=f"{frame.title}, {frame.studio}", author=frame.studio)
    blocks, heads, pages = _paged(lines, frame, chosen)
    for number, page in enumerate(pages, start=1):
        y = frame.draw(sheet, number, len(pages)).top + 4
        if number > 1 and page and blocks[page[0]].is_line:  # columns are named on every page
            heads.draw(sheet, y)
            y += heads.height
        for index in page:
            blocks[index].draw(sheet, y)
            y += blocks[index].height
        sheet.turn_page()
    return sheet.finish()


def _paged(lines: LinesPaper, frame: PageFrame, paper: Paper) -> tuple[list[_Block], _Block, list[range]]:
    """The blocks, the heads of the columns, and which blocks stand on which page; smaller if that saves a poor page."""
    first, later = frame.body(paper, first=True), frame.body(paper, first=False)

    def at(size: float) -> tuple[list[_Block], _Block, list[range]]:
        layout = _Layout(paper, first, lines.shares, size)
        blocks, heads = layout.blocks(lines), layout.heads(lines.name_head, lines.heads)
        room = later.height - 4 - (heads.height if lines.lines else 0)
        return blocks, heads, fill_pages([block.height for block in blocks], first.height - 4, room)

    usual = COMPACT if lines.is_compact else 1
    blocks, heads, pages = at(usual)
    is_written_on = any(BLANK in line.figures for line in lines.lines)
    last = sum(blocks[index].height for index in pages[-1]) if len(pages) > 1 else later.height
    if last < NEXT_TO_NOTHING * later.height and not is_written_on:
        for size in (each for each in SIZES if each < usual):
            smaller = at(size)
            if len(smaller[2]) < len(pages):
                return smaller
    return blocks, heads, pages


def _together(first: _Block, second: _Block) -> _Block:
    def draw(sheet: Sheet, y: float) -> None:
        first.draw(sheet, y)
        second.draw(sheet, y + first.height)

    return _Block(first.height + second.height, draw, is_line=second.is_line)
