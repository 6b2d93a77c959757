"""A poster for the stall: few words, pictures and prices to be read from across the way."""

from collections.abc import Sequence
from dataclasses import replace

from costing.papers.price_list import PriceListHeading, PriceListRow, size_in_words
from studio.errors import InputError
from studio.papers.frame import MM, SOFT_INK, Box, Paper, Sheet, paper_named
from studio.papers.typography import TextStyle, fit, wrap
from studio.translation import _

MOST_PIECES = 24
GAP = 8 * MM  # on A4, other papers scale it


def draw_poster(
    rows: Sequence[PriceListRow], heading: PriceListHeading, *, paper: str | Paper = "A4"
) -> bytes:
    """Return the poster as a PDF. Raises InputError for an unknown paper, no piece, and more than fit a poster."""
    chosen = paper_named(paper)
    if not 1 <= len(rows) <= MOST_PIECES:
        problem = _("A poster shows 1 to {most} pieces. Choose individual pieces below.", most=MOST_PIECES)
        raise InputError(problem, field="style")
    sheet = Sheet(chosen, title=_("Poster, {studio}", studio=heading.studio), author=heading.studio)
    across, down = _grid(len(rows))
    each = across * down
    pages = [rows[start : start + each] for start in range(0, len(rows), each)]
    frame = replace(heading.frame(heading.studio), studio="", note="")
    for number, page in enumerate(pages, start=1):
        body = frame.draw(sheet, number, len(pages))
        _draw_page(sheet, page, body, (across, down))
        sheet.turn_page()
    return sheet.finish()


def _grid(count: int) -> tuple[int, int]:
    """How many lie beside and under one another on a page."""
    if count <= 2:
        return 1, count
    return (2, 2) if count <= 4 else (2, 3)


def _draw_page(sheet: Sheet, rows: Sequence[PriceListRow], body: Box, grid: tuple[int, int]) -> None:
    across, down = grid
    gap = GAP * sheet.paper.scale
    width = (body.width - gap * (across - 1)) / across
    height = (body.height - gap * down) / down
    for place, row in enumerate(rows):
        column, line = place % across, place // across
        left, top = body.left + column * (width + gap), body.top + gap + line * (height + gap)
        _draw_piece(sheet, row, Box(left, top, left + width, top + height))


def _draw_piece(sheet: Sheet, row: PriceListRow, box: Box) -> None:
    size = min(box.width / 8, box.height / 8, 40.0)
    price = TextStyle(size, bold=True)
    title, small = TextStyle(size * 0.42, bold=True), TextStyle(size * 0.34, colour=SOFT_INK)
    foot = box.bottom - size * 2.3
    middle = (box.left + box.right) / 2
    if row.thumbnail:
        foot = sheet.photo(row.thumbnail, Box(box.left, box.top, box.right, foot))
    y = foot + size
    sheet.text(middle, y, *fit(row.price, price, box.width), "centre")
    for line in wrap(row.title, title, box.width, 1):
        sheet.text(middle, y + size * 0.6, line, title, "centre")
    sheet.text(middle, y + size * 1.05, *fit(size_in_words(row), small, box.width), "centre")
