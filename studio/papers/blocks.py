"""What stands on a paper from top to bottom, block by block: shared over pages, none torn in two."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from studio.papers.frame import PageFrame, Paper, Sheet

BELOW_HEADING = 4  # points between the heading of a page and its first block


def fill_pages(
    heights: Sequence[float], first: float, later: float, again: Sequence[float] = ()
) -> list[range]:
    """Share rows over pages by height: first, then later, points of room to a page; no rows make one page.

    `again` is the room, row by row, for what is repeated above it where it begins a later page.
    """
    pages: list[range] = []
    start, left = 0, first
    for index, height in enumerate(heights):
        if height > left and index > start:
            pages.append(range(start, index))
            start, left = index, later - (again[index] if again else 0)
        left -= height
    pages.append(range(start, len(heights)))
    return pages


@dataclass(frozen=True, slots=True)
class Block:
    """Something of a known height, in points, that is drawn from a place downwards.

    `again` is drawn above it where it begins a later page: whose part of the paper it is, and what its columns are.
    """

    height: float
    draw: Callable[[Sheet, float], None]
    again: "Block | None" = None


def together(first: Block, *others: Block) -> Block:
    """Blocks that stay on one page."""

    def draw(sheet: Sheet, y: float) -> None:
        for block in (first, *others):
            block.draw(sheet, y)
            y += block.height

    return Block(first.height + sum(block.height for block in others), draw, first.again)


def shared_over_pages(blocks: Sequence[Block], frame: PageFrame, paper: Paper) -> list[range]:
    """Which blocks stand on which page."""
    first, later = (frame.body(paper, first=is_first).height - BELOW_HEADING for is_first in (True, False))
    return fill_pages(
        [block.height for block in blocks],
        first,
        later,
        [block.again.height if block.again else 0 for block in blocks],
    )


def draw_pages(
    blocks: Sequence[Block], pages: Sequence[range], frame: PageFrame, paper: Paper, *, title: str
) -> bytes:
    """Return the blocks as a PDF that is called so, in the frame on each page."""
    sheet = Sheet(paper, title=title, author=frame.studio)
    for number, page in enumerate(pages, start=1):
        y = frame.draw(sheet, number, len(pages)).top + BELOW_HEADING
        again = blocks[page[0]].again if number > 1 and page else None
        for block in [*([again] if again else []), *(blocks[index] for index in page)]:
            block.draw(sheet, y)
            y += block.height
        sheet.turn_page()
    return sheet.finish()
