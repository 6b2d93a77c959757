"""The mixing sheet: what goes into each cup, with room for what the scale really showed, and what is poured on what."""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from studio.papers.blocks import BELOW_HEADING, Block, draw_pages, shared_over_pages, together
from studio.papers.frame import MM, SOFT_INK, Box, PageFrame, Paper, Sheet, paper_named
from studio.papers.typography import INK, Colour, TextStyle, fit, shorten, wrap
from studio.translation import _
from studio.values.numbers import NO_BREAK_SPACE

MOST_LINES = 8
ROW = 8 * MM  # enough to write a weight by hand; on A4, other papers scale it
TICK = 6 * MM
SIZES = (1.0, 0.9, 0.82)  # of the type and its rows, tried in turn where that saves a page with little on it
LITTLE = 0.35  # of a page
MOST_TICKS = 60
NO_BREAK_COLON = f"{NO_BREAK_SPACE}:{NO_BREAK_SPACE}"


@dataclass(frozen=True, slots=True)
class SheetPart:
    """One thing that goes into a cup, every text ready to print."""

    name: str
    volume: str
    weight: str
    reading: str


@dataclass(frozen=True, slots=True)
class SheetCup:
    """One cup: its label, what it holds, the paint's colour as red, green and blue from 0 to 1, if it is known."""

    label: str
    name: str
    total: str
    colour: Colour | None
    parts: Sequence[SheetPart]
    note: str = ""


@dataclass(frozen=True, slots=True)
class SheetLine:
    """So many surfaces poured alike."""

    count: int
    heading: str
    sentences: Sequence[str]


@dataclass(frozen=True, slots=True)
class MixingSheet:
    """Everything on the paper. A caution is a title and its text; it stands where the work is that it is about."""

    shows: str  # what the column of running totals is called
    cups: Sequence[SheetCup]
    lines: Sequence[SheetLine]
    before: Sequence[tuple[str, str]] = field(default_factory=list)
    pouring: Sequence[tuple[str, str]] = field(default_factory=list)
    afterwards: Sequence[tuple[str, str]] = field(default_factory=list)


class _Layout:
    """The sheet in groups of blocks; a group stays on one page where it fits."""

    def __init__(self, paper: Paper, body: Box, size: float) -> None:
        scale = self.scale = paper.scale * size
        self.left, self.width, self.right = body.left, body.width, body.right
        self.section = TextStyle(14 * scale, bold=True)
        self.title = TextStyle(13 * scale, bold=True)
        self.total = TextStyle(12 * scale, bold=True)
        self.text = TextStyle(10 * scale)
        self.strong = TextStyle(10.5 * scale, bold=True)
        self.small = TextStyle(8 * scale, colour=SOFT_INK)
        self.warning = TextStyle(8.5 * scale)
        self.leading = 13 * scale
        self.gap = 6 * scale
        # What each column is wide: volume, weight, scale shows, and the box to write in.
        self.columns = [self.width * share for share in (0.155, 0.155, 0.185, 0.2)]
        self.name_width = self.width - sum(self.columns) - self.gap

    def groups(self, sheet: MixingSheet) -> list[list[Block]]:
        groups = [[self._caution(*caution)] for caution in sheet.before]
        groups += [self._cup(cup, sheet.shows) for cup in sheet.cups]
        if sheet.lines:
            first, *others = [self._line(line) for line in sheet.lines]
            cautions = [self._caution(*caution) for caution in sheet.pouring]
            groups += [[self._section(_("Pour")), *cautions, *first], *others]
        for caution in sheet.afterwards:  # never on a page of its own
            groups[-1].append(self._caution(*caution))
        return groups

    # Cups

    def _cup(self, cup: SheetCup, shows: str) -> list[Block]:
        title, heads = self._cup_title(cup), self._column_heads(shows)
        note = [self._paragraph(cup.note, self.small)] if cup.note else []
        again = together(title, heads)  # of a cup with more parts than a page has room for
        return [title, *note, heads, *(replace(self._part(part), again=again) for part in cup.parts)]

    def _cup_title(self, cup: SheetCup) -> Block:
        before, side = 12 * self.scale, 15 * self.scale
        name_left = self.left + (side + self.gap if cup.colour else 0)
        total = shorten(cup.total, self.total, self.width * 0.3)
        room = self.right - name_left - self.width * 0.3 - self.gap
        name = cup.name.replace(" : ", NO_BREAK_COLON)  # a ratio stays on one line
        lines = wrap(f"{cup.label}  {name}", self.title, room, 3)
        height = before + max(len(lines) * self.title.size * 1.25, side) + 4 * self.scale

        def draw(sheet: Sheet, y: float) -> None:
            top = y + before
            if cup.colour:
                sheet.box(Box(self.left, top, self.left + side, top + side), fill=cup.colour)
            baseline = top + self.title.size
            sheet.lines(name_left, baseline, lines, self.title, self.title.size * 1.25)
            sheet.text(self.right, baseline, total, self.total, "right")

        return Block(height, draw)

    def _column_heads(self, shows: str) -> Block:
        heads = (_("Volume"), _("Weight"), shows, _("Actual weight"))

        def draw(sheet: Sheet, y: float) -> None:
            baseline = y + self.small.size
            sheet.text(self.left, baseline, *fit(_("Ingredient"), self.small, self.name_width))
            for head, right, width in zip(heads, self._rights(), self.columns, strict=True):
                sheet.text(right, baseline, *fit(head, self.small, width - self.gap), "right")
            sheet.rule(self.left, y + 12 * self.scale, self.width)

        return Block(12 * self.scale, draw)

    def _rights(self) -> list[float]:
        """Where each column of figures ends."""
        return [self.right - sum(self.columns[place + 1 :]) for place in range(len(self.columns))]

    def _part(self, part: SheetPart) -> Block:
        names = wrap(part.name, self.text, self.name_width, 3)
        height = max(ROW * self.scale, len(names) * self.leading + 8 * self.scale)
        figures = ((part.volume, self.text), (part.weight, self.text), (part.reading, self.strong))

        def draw(sheet: Sheet, y: float) -> None:
            baseline = y + height / 2 + self.text.size * 0.35
            first = baseline - (len(names) - 1) * self.leading / 2
            sheet.lines(self.left, first, names, self.text, self.leading)
            for (figure, style), right, width in zip(figures, self._rights(), self.columns, strict=False):
                sheet.text(right, baseline, *fit(figure, style, width - self.gap), "right")
            inset = 2 * self.scale
            sheet.box(
                Box(self.right - self.columns[-1] + 2 * self.gap, y + inset, self.right, y + height - inset)
            )
            sheet.rule(self.left, y + height, self.right - self.columns[-1] - self.left)

        return Block(height, draw)

    # Surfaces

    def _line(self, line: SheetLine) -> list[Block]:
        blocks = [self._paragraph(line.heading, self.strong, before=8 * self.scale)]
        blocks += [self._paragraph(sentence, self.text) for sentence in line.sentences]
        return [*blocks, *self._ticks(line.count)]

    def _ticks(self, count: int) -> list[Block]:
        """A numbered box for each surface, to be ticked as it is poured."""
        side = TICK * self.scale
        in_row = max(int(self.width // (side + self.gap)), 1)
        shown = range(1, min(count, MOST_TICKS) + 1)
        return [self._tick_row(shown[start : start + in_row], side) for start in range(0, len(shown), in_row)]

    def _tick_row(self, numbers: Sequence[int], side: float) -> Block:
        def draw(sheet: Sheet, y: float) -> None:
            for place, number in enumerate(numbers):
                x = self.left + place * (side + self.gap)
                sheet.box(Box(x, y, x + side, y + side))
                sheet.text(
                    x + side / 2, y + side / 2 + self.small.size * 0.35, str(number), self.small, "centre"
                )

        return Block(side + 4 * self.scale, draw)

    # Words

    def _section(self, text: str) -> Block:
        before = 14 * self.scale

        def draw(sheet: Sheet, y: float) -> None:
            sheet.text(self.left, y + before + self.section.size, *fit(text, self.section, self.width))

        return Block(before + self.section.size * 1.4, draw)

    def _paragraph(self, text: str, style: TextStyle, *, before: float = 0) -> Block:
        lines, leading = wrap(text, style, self.width, MOST_LINES), style.size * 1.3

        def draw(sheet: Sheet, y: float) -> None:
            sheet.lines(self.left, y + before + style.size, lines, style, leading)

        return Block(before + len(lines) * leading + 3 * self.scale, draw)

    def _caution(self, title: str, text: str) -> Block:
        """Its title, and beside it what to do, set off by a stroke at its left."""
        inset = 8 * self.scale
        head = wrap(title, self.warning._replace(bold=True), self.width - inset, 2)
        lines = wrap(text, self.warning, self.width - inset, MOST_LINES)
        leading, before = self.warning.size * 1.3, 7 * self.scale
        height = before + (len(head) + len(lines)) * leading

        def draw(sheet: Sheet, y: float) -> None:
            top = y + before
            sheet.box(Box(self.left, top, self.left + 2 * self.scale, y + height), fill=INK)
            baseline = top + self.warning.size
            sheet.lines(self.left + inset, baseline, head, self.warning._replace(bold=True), leading)
            sheet.lines(self.left + inset, baseline + len(head) * leading, lines, self.warning, leading)

        return Block(height + 2 * self.scale, draw)


def draw_mixing_sheet(content: MixingSheet, frame: PageFrame, *, paper: str | Paper = "A4") -> bytes:
    """Return the mixing sheet as a PDF on the paper named. Raises InputError when the paper is not known."""
    chosen = paper_named(paper)
    blocks, pages = _paged(content, frame, chosen)
    return draw_pages(blocks, pages, frame, chosen, title=f"{frame.title}, {frame.studio}")


def _paged(content: MixingSheet, frame: PageFrame, paper: Paper) -> tuple[list[Block], list[range]]:
    """The blocks and which of them stand on which page; a little smaller if that saves a page with little on it."""
    first, later = frame.body(paper, first=True), frame.body(paper, first=False)
    room = min(first.height, later.height) - BELOW_HEADING

    def at(size: float) -> tuple[list[Block], list[range]]:
        blocks: list[Block] = []
        for group in _Layout(paper, first, size).groups(content):
            height = sum(block.height for block in group)
            blocks += [together(*group)] if height <= room else group
        return blocks, shared_over_pages(blocks, frame, paper)

    blocks, pages = at(SIZES[0])
    if len(pages) > 1 and sum(blocks[index].height for index in pages[-1]) < LITTLE * later.height:
        smaller = (at(size) for size in SIZES[1:])
        return next((each for each in smaller if len(each[1]) < len(pages)), (blocks, pages))
    return blocks, pages
