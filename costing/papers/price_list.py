"""The price list for a stall, a studio wall or a gallery desk: each piece, its size and what it costs."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import IO

from studio.papers.blocks import fill_pages
from studio.papers.frame import MM, SOFT_INK, Box, PageFrame, Paper, Sheet, paper_named
from studio.papers.typography import ELLIPSIS, TextStyle, fit, shorten, text_width, wrap
from studio.translation import _, noop

NOTHING_FOR_SALE = noop("There is nothing for sale yet.")
TECHNIQUE, SIZE = noop("Medium, year"), noop("Size, H × W")
WHAT_TO_DO = noop("Give a finished piece a price and mark it for sale; it will be listed here.")

PHOTO_SIDE, LARGER_PHOTO = 18 * MM, 32 * MM  # on A4; other papers scale it. Of larger ones six fill a page
GAP = 4 * MM
ROW_PADDING = 3 * MM
COLUMN_HEADINGS_HEIGHT = 22
LEAST_TITLE = 0.25  # of the width: with less for it, what has columns of its own moves under the title
FEW_ROWS = 3  # which a last page is not turned for, if they fit on the others


class ListStyle(StrEnum):
    """How pieces are laid out: as a list, with pictures to choose by, numbered for a gallery's wall, as a poster."""

    LIST = "list"
    PICTURES = "pictures"
    GALLERY = "gallery"
    POSTER = "poster"


@dataclass(frozen=True)
class PriceListRow:
    """One piece, every text ready to print: sizes as height × width, the price with its currency sign."""

    code: str
    title: str
    size_cm: str
    size_in: str
    medium: str
    year: str
    price: str
    thumbnail: bytes | None = None
    note: str = ""


@dataclass(frozen=True)
class PriceListHeading:
    """What stands round the rows; the tax note is the caution that closes every page."""

    studio: str
    place_and_date: str
    currency_note: str
    tax_note: str
    contact: Sequence[str] = ()
    logo: bytes | None = None

    def frame(self, title: str) -> PageFrame:
        return PageFrame(
            self.studio,
            title,
            self.place_and_date,
            self.currency_note,
            self.tax_note,
            contact=self.contact,
            logo=self.logo,
        )


@dataclass(frozen=True)
class _Block:
    """One row measured: its lines as they will be drawn."""

    row: PriceListRow
    title: list[str]
    details: list[str]
    technique: list[str]
    size: list[str]
    height: float


def size_in_words(row: PriceListRow) -> str:
    """The size as a label says it, which side comes first included."""
    size = _("{size} (H × W)", size=row.size_cm) if "×" in row.size_cm else row.size_cm
    return f"{size}, {row.note}" if row.note else size


class _Layout:
    """Where the columns stand on one paper for one set of rows, and the type they are set in."""

    def __init__(
        self, rows: Sequence[PriceListRow], paper: Paper, style: ListStyle, *, closeness: float = 1.0
    ) -> None:
        self.is_numbered = style == ListStyle.GALLERY
        scale, width = paper.scale, paper.width - 2 * paper.margin
        self.title = TextStyle(11 * scale, bold=True)
        self.detail = TextStyle(8.5 * scale, colour=SOFT_INK)
        self.heading = TextStyle(7.5 * scale, colour=SOFT_INK)
        self.price = TextStyle(13 * scale, bold=True)
        self.leading, self.detail_leading = 14 * scale, 12 * scale
        self.padding, self.gap = ROW_PADDING * scale * closeness, GAP * scale
        # narrow papers tell the technique, and the narrowest the size, under the title
        self.technique_has_column, self.size_has_column = width >= 150 * MM, width >= 100 * MM
        self.title_lines = 4 if style == ListStyle.PICTURES else 2
        side = LARGER_PHOTO if style == ListStyle.PICTURES else PHOTO_SIDE
        self.photo_side = side * scale * scale if any(row.thumbnail for row in rows) else 0.0
        left, right = paper.margin, paper.width - paper.margin
        self._place_columns(rows, left, right)
        if self.technique_has_column and self.title_width < LEAST_TITLE * width:
            self.technique_has_column = False
            self._place_columns(rows, left, right)
        if self.size_has_column and self.title_width < LEAST_TITLE * width:
            self.size_has_column = False
            self._place_columns(rows, left, right)

    def _place_columns(self, rows: Sequence[PriceListRow], left: float, right: float) -> None:
        width, edge = right - left, right
        number = text_width(str(len(rows)), self.title) + self.gap
        self.photo_left = left + (number if self.is_numbered else 0)
        self.title_left = self.photo_left + (self.photo_side + self.gap if self.photo_side else 0)
        edge -= self._widest(self.price, (row.price for row in rows), width * 0.12, width * 0.3)
        self.price_left, self.price_right = edge, right
        self.size_left = self.technique_left = edge
        if self.size_has_column:
            sizes = (size for row in rows for size in (row.size_cm, row.size_in))
            self.size_width = self._widest(
                self.detail, sizes, text_width(_(SIZE), self.heading), width * 0.24
            )
            self.size_left = edge = edge - self.gap - self.size_width
        if self.technique_has_column:
            techniques = (text for row in rows for text in (row.medium, row.year))
            least = text_width(_(TECHNIQUE), self.heading)
            titles = max([LEAST_TITLE * width, *(text_width(row.title, self.title) for row in rows)])
            spare = edge - 2 * self.gap - titles - self.title_left - 1  # what no title needs
            self.technique_width = self._widest(self.detail, techniques, least, max(width * 0.2, spare))
            self.technique_left = edge = edge - self.gap - self.technique_width
        self.title_width = edge - self.gap - self.title_left

    @staticmethod
    def _widest(style: TextStyle, texts: Iterable[str], least: float, most: float) -> float:
        return min(most, max(least, max((text_width(text, style) for text in texts), default=0.0)))

    def _medium_and_year(self, row: PriceListRow) -> list[str]:
        """The year on a line of its own, or behind a medium that needs two lines if that saves a third."""
        medium = wrap(row.medium, self.detail, self.technique_width, 2)
        both = wrap(_joined(", ", row.medium, row.year), self.detail, self.technique_width, 2)
        if len(medium) == 2 and not both[-1].endswith(ELLIPSIS):
            return both
        return [*medium, shorten(row.year, self.detail, self.technique_width)]

    def measure(self, row: PriceListRow) -> _Block:
        title = wrap(row.title, self.title, self.title_width, self.title_lines)
        technique, size = [row.medium, row.year], [row.size_cm, row.size_in]
        details: list[str] = []
        if self.technique_has_column:
            technique = self._medium_and_year(row)
        else:
            details += wrap(_joined(", ", *technique), self.detail, self.title_width, 2)
            technique = []
        if self.size_has_column:
            size = [line for each in size for line in wrap(each, self.detail, self.size_width + 0.01, 2)]
        else:
            details += wrap(_joined(" / ", *size), self.detail, self.title_width, 2)
            size = []
        details += wrap(_joined(" · ", row.code, row.note), self.detail, self.title_width, 2)
        text_height = len(title) * self.leading + len(details) * self.detail_leading
        side_height = self.leading + (max(len(technique), len(size)) - 1) * self.detail_leading
        height = max(text_height, side_height, self.photo_side) + 2 * self.padding
        return _Block(row, title, details, technique, size, height)


def write_price_list(
    rows: Sequence[PriceListRow], heading: PriceListHeading, *, paper: str | Paper, style: ListStyle
) -> IO[bytes]:
    """The price list as a PDF on the paper named, in a file at its beginning; no rows make one page that says so.

    With a thousand photos it is never all in memory. Raises InputError when the paper is not known.
    """
    chosen = paper_named(paper)
    sheet = Sheet(chosen, title=_("Price list, {studio}", studio=heading.studio), author=heading.studio)
    frame = heading.frame(_("List of works") if style == ListStyle.GALLERY else _("Price list"))
    if not rows:
        _draw_empty(sheet, frame.draw(sheet, 1, 1))
        return sheet.finish_file()
    layout, blocks, pages = _fewest_pages(rows, frame, chosen, style)
    for number, page in enumerate(pages, start=1):
        body = frame.draw(sheet, number, len(pages))
        _draw_column_headings(sheet, layout, body)
        y = body.top + COLUMN_HEADINGS_HEIGHT
        for index in page:
            if layout.is_numbered:
                baseline = y + layout.padding + 0.8 * layout.title.size
                sheet.text(body.left, baseline, str(index + 1), layout.title)
            _draw_block(sheet, layout, blocks[index], y)
            y += blocks[index].height
            if index != page[-1]:
                sheet.rule(body.left, y, body.width)
        sheet.turn_page()
    return sheet.finish_file()


def _fewest_pages(
    rows: Sequence[PriceListRow], frame: PageFrame, paper: Paper, style: ListStyle
) -> tuple[_Layout, list[_Block], list[range]]:
    """The rows measured and shared over pages; a little closer together where that saves a page."""
    first, later = (
        frame.body(paper, first=is_first).height - COLUMN_HEADINGS_HEIGHT for is_first in (True, False)
    )

    def laid_out(closeness: float) -> tuple[_Layout, list[_Block], list[range]]:
        layout = _Layout(rows, paper, style, closeness=closeness)
        blocks = [layout.measure(row) for row in rows]
        return layout, blocks, fill_pages([block.height for block in blocks], first, later)

    loose = laid_out(1.0)
    if len(loose[-1]) == 1 or len(loose[-1][-1]) > FEW_ROWS:
        return loose
    return min(loose, laid_out(0.5), key=lambda layout: len(layout[-1]))


def _joined(between: str, *texts: str) -> str:
    return between.join(text for text in texts if text.strip())


def _draw_empty(sheet: Sheet, body: Box) -> None:
    scale = sheet.paper.scale
    notice, hint = TextStyle(13 * scale), TextStyle(9.5 * scale, colour=SOFT_INK)
    y = body.top + 40 * scale
    sheet.lines(body.left, y, wrap(_(NOTHING_FOR_SALE), notice, body.width, 2), notice, 17 * scale)
    sheet.lines(body.left, y + 22 * scale, wrap(_(WHAT_TO_DO), hint, body.width, 3), hint, 13 * scale)


def _draw_column_headings(sheet: Sheet, layout: _Layout, body: Box) -> None:
    baseline = body.top + COLUMN_HEADINGS_HEIGHT - 7
    piece = _("Piece") if layout.size_has_column else _("Piece, size H × W")
    sheet.text(layout.title_left, baseline, piece, layout.heading)
    if layout.technique_has_column:
        sheet.text(layout.technique_left, baseline, _(TECHNIQUE), layout.heading)
    if layout.size_has_column:
        sheet.text(layout.size_left, baseline, _(SIZE), layout.heading)
    sheet.text(layout.price_right, baseline, _("Price"), layout.heading, "right")
    sheet.rule(body.left, body.top + COLUMN_HEADINGS_HEIGHT, body.width)


def _draw_block(sheet: Sheet, layout: _Layout, block: _Block, y: float) -> None:
    top = y + layout.padding
    baseline = top + 0.8 * layout.title.size
    if block.row.thumbnail:
        left = layout.photo_left
        sheet.photo(block.row.thumbnail, Box(left, top, left + layout.photo_side, top + layout.photo_side))
    sheet.lines(layout.title_left, baseline, block.title, layout.title, layout.leading)
    below = baseline + len(block.title) * layout.leading
    sheet.lines(layout.title_left, below, block.details, layout.detail, layout.detail_leading)
    sheet.lines(layout.technique_left, baseline, block.technique, layout.detail, layout.detail_leading)
    for number, size in enumerate(block.size):
        fitted = fit(size, layout.detail, layout.size_width)
        sheet.text(layout.size_left, baseline + number * layout.detail_leading, *fitted)
    price = fit(block.row.price, layout.price, layout.price_right - layout.price_left)
    sheet.text(layout.price_right, baseline, *price, "right")
