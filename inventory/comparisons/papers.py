"""Papers of a comparison: sections of sentences, small tables and photos, on one page where they fit."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from studio.papers.frame import SOFT_INK, Box, PageFrame, Paper, Sheet, fill_pages, paper_named
from studio.papers.typography import TextStyle, fit, wrap

# Tried one after the other until everything stands on one page.
SIZES = (1.0, 0.92, 0.84, 0.76)
MOST_LINES = 12
PHOTO_SIDE = 84.0
FIRST_COLUMN = 0.28
GAP = 8.0


@dataclass(frozen=True)
class Section:
    """A heading; sentences, a table whose first row holds its headings, and photos with what each shows."""

    heading: str
    sentences: Sequence[str] = ()
    table: Sequence[Sequence[str]] = ()
    photos: Sequence[tuple[bytes, str]] = ()
    widths: Sequence[
        float
    ] = ()  # of the table's columns, as shares of the page; else the first, and the rest alike


@dataclass(frozen=True)
class _Block:
    """Something of a known height, in points, that is drawn from a place downwards."""

    height: float
    draw: Callable[[Sheet, float], None]


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

    def blocks(self, sections: Sequence[Section]) -> list[_Block]:
        blocks: list[_Block] = []
        for section in sections:
            heading = self._line(section.heading, self.heading, before=9 * self.scale)
            content = [self._sentence(sentence) for sentence in section.sentences]
            content += [
                self._row(row, section.widths, is_head=not place) for place, row in enumerate(section.table)
            ]
            content += self._photos(section.photos)
            # A heading is never the last thing on a page.
            blocks += [_together(heading, content[0]), *content[1:]] if content else [heading]
        return blocks

    def _line(self, text: str, style: TextStyle, before: float = 0) -> _Block:
        height = before + style.size * 1.5

        def draw(sheet: Sheet, y: float) -> None:
            sheet.text(self.left, y + before + style.size, *fit(text, style, self.width))

        return _Block(height, draw)

    def _sentence(self, text: str) -> _Block:
        lines = wrap(text, self.text, self.width, MOST_LINES)

        def draw(sheet: Sheet, y: float) -> None:
            sheet.lines(self.left, y + self.text.size, lines, self.text, self.leading)

        return _Block(len(lines) * self.leading + 3 * self.scale, draw)

    def _row(self, cells: Sequence[str], widths: Sequence[float], *, is_head: bool) -> _Block:
        rest = (1 - FIRST_COLUMN) / max(len(cells) - 1, 1)
        shares = widths or [FIRST_COLUMN, *[rest] * (len(cells) - 1)]
        style = self.small if is_head else self.text
        columns = [
            wrap(cell, style, share * self.width - GAP, MOST_LINES)
            for share, cell in zip(shares, cells, strict=True)
        ]
        height = max(len(lines) for lines in columns) * self.leading + 4 * self.scale

        def draw(sheet: Sheet, y: float) -> None:
            x = self.left
            for share, lines in zip(shares, columns, strict=True):
                sheet.lines(x, y + style.size, lines, style, self.leading)
                x += share * self.width
            sheet.rule(self.left, y + height - 2 * self.scale, self.width)

        return _Block(height, draw)

    def _photos(self, photos: Sequence[tuple[bytes, str]]) -> list[_Block]:
        side = PHOTO_SIDE * self.scale
        in_row = max(int((self.width + GAP) // (side + GAP)), 1)
        if len(photos) == in_row + 1:  # a little smaller, rather than one alone on a row
            in_row += 1
            side = (self.width + GAP) / in_row - GAP
        return [
            self._photo_row(photos[start : start + in_row], side) for start in range(0, len(photos), in_row)
        ]

    def _photo_row(self, photos: Sequence[tuple[bytes, str]], side: float) -> _Block:
        def draw(sheet: Sheet, y: float) -> None:
            for place, (photo, label) in enumerate(photos):
                x = self.left + place * (side + GAP)
                sheet.photo(photo, Box(x, y, x + side, y + side))
                sheet.text(x, y + side + self.small.size * 1.2, *fit(label, self.small, side))

        return _Block(side + self.leading + 4 * self.scale, draw)


def _together(first: _Block, second: _Block) -> _Block:
    def draw(sheet: Sheet, y: float) -> None:
        first.draw(sheet, y)
        second.draw(sheet, y + first.height)

    return _Block(first.height + second.height, draw)


def draw_sections(sections: Sequence[Section], frame: PageFrame, *, paper: str | Paper = "A4") -> bytes:
    """Return the sections as a PDF on the paper named, on one page where small type makes that possible.

    Raises InputError when the paper is not known.
    """
    chosen = paper_named(paper)
    sheet = Sheet(chosen, title=frame.title, author=frame.studio)
    first, later = frame.body(chosen, first=True), frame.body(chosen, first=False)
    blocks: list[_Block] = []
    for size in SIZES:
        blocks = _Layout(chosen, first, size).blocks(sections)
        if sum(block.height for block in blocks) <= first.height:
            break
    else:  # several pages anyway: then in type that is easy to read
        blocks = _Layout(chosen, first, SIZES[0]).blocks(sections)
    pages = fill_pages([block.height for block in blocks], first.height, later.height)
    for number, page in enumerate(pages, start=1):
        y = frame.draw(sheet, number, len(pages)).top + 4
        for index in page:
            blocks[index].draw(sheet, y)
            y += blocks[index].height
        sheet.turn_page()
    return sheet.finish()
