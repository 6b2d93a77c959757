"""Papers of a comparison: sections of sentences, small tables and photos, on one page where they fit."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from studio.papers.blocks import BELOW_HEADING, Block, draw_pages, shared_over_pages, together
from studio.papers.frame import SOFT_INK, Box, PageFrame, Paper, Sheet, paper_named
from studio.papers.typography import TextStyle, fit, wrap

# Tried one after the other until everything stands on one page.
SIZES = (1.0, 0.92, 0.84, 0.76)
MOST_LINES = 12
PHOTO_SIDE = 84.0
FIRST_COLUMN = 0.28
GAP = 8.0


@dataclass(frozen=True)
class Section:
    """A heading; sentences, a table whose first row holds its headings, and photos with what each shows.

    `has_amounts` says that the last column holds amounts of money, which end at the right; `sums` what the rows are
    called that add up others.
    """

    heading: str
    sentences: Sequence[str] = ()
    table: Sequence[Sequence[str]] = ()
    photos: Sequence[tuple[bytes, str]] = ()
    widths: Sequence[
        float
    ] = ()  # of the table's columns, as shares of the page; else the first, and the rest alike
    has_amounts: bool = False
    sums: Sequence[str] = ()


class _Layout:
    """Sections in blocks, at one size of type."""

    def __init__(self, paper: Paper, body: Box, size: float) -> None:
        scale = paper.scale * size
        self.left, self.width = body.left, body.width
        self.heading = TextStyle(12 * scale, bold=True)
        self.text = TextStyle(9.5 * scale)
        self.bold = TextStyle(9.5 * scale, bold=True)
        self.small = TextStyle(8 * scale, colour=SOFT_INK)
        self.leading, self.scale = 12.5 * scale, scale

    def blocks(self, sections: Sequence[Section]) -> list[Block]:
        blocks: list[Block] = []
        for section in sections:
            heading = self._line(section.heading, self.heading, before=9 * self.scale)
            content = [self._sentence(sentence) for sentence in section.sentences]
            content += self._table(section)
            content += self._photos(section.photos)
            # A heading is never the last thing on a page.
            blocks += [together(heading, content[0])] if content else [heading]
            blocks += [self._under(heading, block) for block in content[1:]]
        return blocks

    @staticmethod
    def _under(heading: Block, block: Block) -> Block:
        """A row that begins a page stands under its section's heading again, not under its columns' alone."""
        return replace(block, again=together(heading, block.again)) if block.again else block

    def _line(self, text: str, style: TextStyle, before: float = 0) -> Block:
        height = before + style.size * 1.5

        def draw(sheet: Sheet, y: float) -> None:
            sheet.text(self.left, y + before + style.size, *fit(text, style, self.width))

        return Block(height, draw)

    def _sentence(self, text: str) -> Block:
        lines = wrap(text, self.text, self.width, MOST_LINES)

        def draw(sheet: Sheet, y: float) -> None:
            sheet.lines(self.left, y + self.text.size, lines, self.text, self.leading)

        return Block(len(lines) * self.leading + 3 * self.scale, draw)

    def _table(self, section: Section) -> list[Block]:
        """Its rows; the headings are never the last thing on a page."""
        if not section.table:
            return []
        heads = self._row(section.table[0], section, self.small)
        rows = [
            self._row(row, section, self.bold if row[0] in section.sums else self.text)
            for row in section.table[1:]
        ]
        first = [together(heads, rows[0])] if rows else [heads]
        return [*first, *(replace(row, again=heads) for row in rows[1:])]

    def _row(self, cells: Sequence[str], section: Section, style: TextStyle) -> Block:
        rest = (1 - FIRST_COLUMN) / max(len(cells) - 1, 1)
        shares = section.widths or [FIRST_COLUMN, *[rest] * (len(cells) - 1)]
        columns = [
            wrap(cell, style, share * self.width - GAP, MOST_LINES)
            for share, cell in zip(shares, cells, strict=True)
        ]
        height = max(len(lines) for lines in columns) * self.leading + 4 * self.scale

        def draw(sheet: Sheet, y: float) -> None:
            x = self.left
            for place, (share, lines) in enumerate(zip(shares, columns, strict=True), start=1):
                x += share * self.width
                if section.has_amounts and place == len(columns):
                    for number, line in enumerate(lines):
                        sheet.text(x, y + style.size + number * self.leading, line, style, "right")
                else:
                    sheet.lines(x - share * self.width, y + style.size, lines, style, self.leading)
            sheet.rule(self.left, y + height - 2 * self.scale, self.width)

        return Block(height, draw)

    def _photos(self, photos: Sequence[tuple[bytes, str]]) -> list[Block]:
        side = PHOTO_SIDE * self.scale
        in_row = max(int((self.width + GAP) // (side + GAP)), 1)
        if len(photos) == in_row + 1:  # a little smaller, rather than one alone on a row
            in_row += 1
            side = (self.width + GAP) / in_row - GAP
        return [
            self._photo_row(photos[start : start + in_row], side) for start in range(0, len(photos), in_row)
        ]

    def _photo_row(self, photos: Sequence[tuple[bytes, str]], side: float) -> Block:
        def draw(sheet: Sheet, y: float) -> None:
            for place, (photo, label) in enumerate(photos):
                x = self.left + place * (side + GAP)
                sheet.photo(photo, Box(x, y, x + side, y + side))
                sheet.text(x, y + side + self.small.size * 1.2, *fit(label, self.small, side))

        return Block(side + self.leading + 4 * self.scale, draw)


def draw_sections(sections: Sequence[Section], frame: PageFrame, *, paper: str | Paper = "A4") -> bytes:
    """Return the sections as a PDF on the paper named, on one page where small type makes that possible.

    Raises InputError when the paper is not known.
    """
    chosen = paper_named(paper)
    body = frame.body(chosen, first=True)
    blocks: list[Block] = []
    for size in SIZES:
        blocks = _Layout(chosen, body, size).blocks(sections)
        if sum(block.height for block in blocks) <= body.height - BELOW_HEADING:
            break
    else:  # several pages anyway: then in type that is easy to read
        blocks = _Layout(chosen, body, SIZES[0]).blocks(sections)
    return draw_pages(blocks, shared_over_pages(blocks, frame, chosen), frame, chosen, title=frame.title)
