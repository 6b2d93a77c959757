"""A poster for the stall: few words, pictures and prices to be read from across the way."""

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

from costing.papers.price_list import PriceListHeading, PriceListRow, size_in_words
from studio.errors import InputError
from studio.papers.frame import MM, SOFT_INK, Box, Paper, Sheet, paper_named
from studio.papers.typography import TextStyle, fit, wrap
from studio.translation import _

MOST_PIECES = 24
MOST_ON_A_PAGE = 9
GAP = 8 * MM  # on A4, other papers scale it
NEARLY = 0.85
WITHOUT_PICTURE = 1.4  # times as large, as the words have all the room
PICTURE = 0.75  # of the height that one piece has; the words have the rest


def draw_poster(
    rows: Sequence[PriceListRow], heading: PriceListHeading, *, paper: str | Paper = "A4"
) -> bytes:
    """Return the poster as a PDF. Raises InputError for an unknown paper, no piece, and more than fit a poster."""
    chosen = paper_named(paper)
    if not 1 <= len(rows) <= MOST_PIECES:
        problem = _("A poster shows 1 to {most} pieces. Choose individual pieces below.", most=MOST_PIECES)
        raise InputError(problem, field="style")
    sheet = Sheet(chosen, title=_("Poster, {studio}", studio=heading.studio), author=heading.studio)
    pages = _shared(rows)
    frame = replace(heading.frame(heading.studio), studio="", note="")
    for number, page in enumerate(pages, start=1):
        body = frame.draw(sheet, number, len(pages))
        _draw_page(sheet, page, body, len(pages[0]))
        sheet.turn_page()
    return sheet.finish()


def _shared(rows: Sequence[PriceListRow]) -> list[Sequence[PriceListRow]]:
    """As few pages as will do, none of them with more than one piece less than another."""
    count = -(-len(rows) // MOST_ON_A_PAGE)
    ends = [len(rows) * number // count for number in range(count, -1, -1)][::-1]
    return sorted((rows[start:end] for start, end in pairwise(ends)), key=len, reverse=True)


def _grid(count: int, box: Box) -> tuple[int, int]:
    """How many lie beside and under one another on a page: pictures nearly as large as they can be, the page filled."""

    def side(across: int) -> float:
        return min(box.width / across, PICTURE * box.height / -(-count // across))

    largest = max(side(across) for across in range(1, count + 1))
    across = next(across for across in range(1, count + 1) if side(across) >= NEARLY * largest)
    return across, -(-count // across)


def _draw_page(sheet: Sheet, rows: Sequence[PriceListRow], body: Box, most: int) -> None:
    """Draw a page of a poster whose fullest page has `most` pieces; a line that is not full stands in the middle."""
    across, down = _grid(most, body)
    gap = GAP * sheet.paper.scale
    width = (body.width - gap * (across - 1)) / across
    height = (body.height - gap * down) / down
    for line in range(down):
        beside = rows[line * across : (line + 1) * across]
        left = body.left + (across - len(beside)) * (width + gap) / 2
        top = body.top + gap + line * (height + gap)
        for column, row in enumerate(beside):
            start = left + column * (width + gap)
            _draw_piece(sheet, row, Box(start, top, start + width, top + height))


def _draw_piece(sheet: Sheet, row: PriceListRow, box: Box) -> None:
    size = min(box.width / 8, box.height / 8, 40.0) * (1 if row.thumbnail else WITHOUT_PICTURE)
    price = TextStyle(size, bold=True)
    title = TextStyle(max(size * 0.42, 7), bold=True)
    small = TextStyle(max(size * 0.34, 6), colour=SOFT_INK)
    words = size + 1.4 * title.size + 2 * small.size  # how high all three of them are
    foot = box.bottom - words if row.thumbnail else (box.top + box.bottom) / 2 - size
    middle = (box.left + box.right) / 2
    if row.thumbnail:
        foot = sheet.photo(row.thumbnail, Box(box.left, box.top, box.right, foot))
    y = foot + size
    sheet.text(middle, y, *fit(row.price, price, box.width), "centre")
    for line in wrap(row.title, title, box.width, 1 if row.thumbnail else 3):
        y += 1.4 * title.size
        sheet.text(middle, y, line, title, "centre")
    sheet.text(middle, y + 1.4 * small.size, *fit(size_in_words(row), small, box.width), "centre")
