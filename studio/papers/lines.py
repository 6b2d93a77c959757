"""A paper of lines: to whom, from whom, a few facts, the lines with their figures, a total, notes, signatures."""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Literal

from studio.papers.blocks import Block, draw_pages, shared_over_pages, together
from studio.papers.frame import SOFT_INK, Box, PageFrame, Paper, Sheet, paper_named
from studio.papers.typography import TextStyle, fit, wrap
from studio.translation import _, language, speaking

MOST_ADDRESS_LINES = 8
MOST_NOTE_LINES = 12
MOST_FACT_LINES = 5
BLANK = "_"  # a figure or a fact to be written in by hand
COMPACT = 0.9  # of the size of type
SIZES = (1, COMPACT, 0.82)  # tried in turn where that saves a page with next to nothing on it
NEXT_TO_NOTHING = 0.25  # of a page
SMALLEST_FIGURE = 4.5  # points: hard to read, but never another amount
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
    """A paper of lines in its frame, what its file is called, and the language that it was written in.

    Whoever prints it, and whenever, what is named as it is drawn is named in that language too.
    """

    name: str
    frame: PageFrame
    lines: LinesPaper
    language: str = field(default_factory=language)

    def draw(self, paper: str | Paper) -> bytes:
        with speaking(self.language):
            return draw_lines(self.lines, self.frame, paper=paper)


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

    def blocks(self, paper: LinesPaper) -> list[Block]:
        blocks = [self._side_by_side(paper.addresses)] if paper.addresses else []
        blocks.append(self._facts(paper.facts))
        if paper.lines:
            blocks += self._lines(paper.lines, self._heads(paper.name_head, paper.heads))
        if closing := self._closing(paper):  # a total never stands without a line
            blocks.append(together(*([blocks.pop()] if paper.lines else []), *closing))
        if paper.notes:
            blocks.append(self._notes(paper.notes_head or _("Notes"), paper.notes))
        if paper.signatures:
            signed = self._signatures(paper.signatures)
            blocks.append(together(blocks.pop(), signed) if paper.notes else signed)
        return blocks

    def _closing(self, paper: LinesPaper) -> list[Block]:
        """What leads from the lines to their total, the total, and what tells of it."""
        closing = [self._amounts(paper.sums)] if paper.sums else []
        closing += [self._total(paper.total)] if paper.total else []
        return [*closing, self._amounts(paper.after)] if paper.after else closing

    def _lines(self, lines: Sequence[Line], heads: Block) -> list[Block]:
        """The heads and a heading stay with the line under them, and what lines come to with the last of them.

        Where lines go on on another page, their columns are named again, and what they stand under.
        """
        blocks: list[Block] = []
        heading: Block | None = None
        again = heads
        for line in lines:
            if line.kind == "heading":
                blocks += [heading] if heading else []
                heading = replace(self._heading(line), again=heads)
                continue
            block = replace(self._line(line), again=again)
            if heading:
                block, again, heading = together(heading, block), together(heads, heading), None
            elif line.kind == "sum" and blocks:
                block = together(blocks.pop(), block)
            blocks.append(block)
        blocks += [heading] if heading else []
        return [together(heads, blocks[0]), *blocks[1:]]

    def _side_by_side(self, addresses: Sequence[tuple[str, Sequence[str]]]) -> Block:
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

        return Block(height, draw)

    def _facts(self, facts: Sequence[tuple[str, str]]) -> Block:
        term_width = self.width * 0.3
        texts = [wrap(text, self.strong, self.width - term_width, MOST_FACT_LINES) for _term, text in facts]
        by_hand = (BLANK_HEIGHT * self.scale) - self.leading
        height = self.leading * (sum(map(len, texts)) + 1.2) + by_hand * texts.count([BLANK])

        def draw(sheet: Sheet, y: float) -> None:
            baseline, left = y + self.leading, self.left + term_width
            for (term, text), lines in zip(facts, texts, strict=True):
                baseline += by_hand if text == BLANK else 0
                sheet.text(self.left, baseline, *fit(term, self.small, term_width - self.gap))
                if text == BLANK:
                    sheet.rule(left, baseline + 2, self.width * 0.4)
                else:
                    sheet.lines(left, baseline, lines, self.strong, self.leading)
                baseline += self.leading * len(lines)

        return Block(height, draw)

    def _heads(self, name_head: str, heads: Sequence[str]) -> Block:
        def draw(sheet: Sheet, y: float) -> None:
            baseline = y + self.small.size
            sheet.text(self.left, baseline, *fit(name_head, self.small, self.name_width))
            for head, right, width in zip(heads, self._rights(), self.columns, strict=True):
                sheet.text(right, baseline, *fit(head, self.small, width - self.gap), "right")
            sheet.rule(self.left, y + 13 * self.scale, self.width)

        return Block(13 * self.scale, draw)

    def _rights(self) -> list[float]:
        """Where each column of figures ends."""
        return [self.right - sum(self.columns[place + 1 :]) for place in range(len(self.columns))]

    def _heading(self, line: Line) -> Block:
        def draw(sheet: Sheet, y: float) -> None:
            below = y + self.heading_height
            sheet.text(self.left, below - 0.6 * self.leading, *fit(line.name, self.total, self.width))
            sheet.rule(self.left, below, self.width)

        return Block(self.heading_height, draw)

    def _line(self, line: Line) -> Block:
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
                    fitted = fit(figure, figure_style, width - self.gap, SMALLEST_FIGURE)
                    sheet.text(right, baseline, *fitted, "right")
            sheet.rule(self.left, y + height, self.width)

        return Block(height, draw)

    def _amounts(self, amounts: Sequence[tuple[str, str]]) -> Block:
        def draw(sheet: Sheet, y: float) -> None:
            for place, (term, amount) in enumerate(amounts, start=1):
                baseline = y + place * self.leading + 2 * self.scale
                sheet.text(self.left, baseline, *fit(term, self.text, self.width * 0.66))
                sheet.text(self.right, baseline, *fit(amount, self.text, self.width * 0.3), "right")

        return Block(self.leading * (len(amounts) + 0.4), draw)

    def _total(self, total: str) -> Block:
        def draw(sheet: Sheet, y: float) -> None:
            baseline = y + 8 * self.scale + self.total.size
            sheet.text(self.left, baseline, *fit(_("Total"), self.total, self.width * 0.4))
            sheet.text(self.right, baseline, *fit(total, self.total, self.width * 0.5), "right")

        return Block(self.total.size + 20 * self.scale, draw)

    def _notes(self, head: str, notes: str) -> Block:
        lines = [part for line in notes.splitlines() for part in wrap(line, self.text, self.width, 4)]
        lines = lines[:MOST_NOTE_LINES]

        def draw(sheet: Sheet, y: float) -> None:
            baseline = y + 1.5 * self.leading
            sheet.text(self.left, baseline, *fit(head, self.small, self.width))
            sheet.lines(self.left, baseline + self.leading, lines, self.text, self.leading)

        return Block((len(lines) + 2.5) * self.leading, draw)

    def _signatures(self, signatures: Sequence[str]) -> Block:
        width = (self.width - self.gap * (len(signatures) - 1)) / len(signatures)

        def draw(sheet: Sheet, y: float) -> None:
            for place, words in enumerate(signatures):
                x = self.left + place * (width + self.gap)
                sheet.rule(x, y + 4 * self.leading, width)
                sheet.text(x, y + 5 * self.leading, *fit(words, self.small, width))

        return Block(6 * self.leading, draw)


def draw_lines(lines: LinesPaper, frame: PageFrame, *, paper: str | Paper = "A4") -> bytes:
    """Return it as a PDF on the paper named. Raises InputError when the paper is not known."""
    chosen = paper_named(paper)
    blocks, pages = _paged(lines, frame, chosen)
    return draw_pages(blocks, pages, frame, chosen, title=f"{frame.title}, {frame.studio}")


def _paged(lines: LinesPaper, frame: PageFrame, paper: Paper) -> tuple[list[Block], list[range]]:
    """The blocks, and which of them stand on which page; smaller if that saves a poor page."""
    first, later = frame.body(paper, first=True), frame.body(paper, first=False)

    def at(size: float) -> tuple[list[Block], list[range]]:
        blocks = _Layout(paper, first, lines.shares, size).blocks(lines)
        return blocks, shared_over_pages(blocks, frame, paper)

    usual = COMPACT if lines.is_compact else 1
    blocks, pages = at(usual)
    is_written_on = any(BLANK in line.figures for line in lines.lines)
    last = sum(blocks[index].height for index in pages[-1]) if len(pages) > 1 else later.height
    if last < NEXT_TO_NOTHING * later.height and not is_written_on:
        for size in (each for each in SIZES if each < usual):
            smaller = at(size)
            if len(smaller[1]) < len(pages):
                return smaller
    return blocks, pages
