"""A price list as the bytes of its file."""

from collections.abc import Sequence

from costing.papers.price_list import ListStyle, PriceListHeading, PriceListRow, write_price_list
from studio.papers.frame import Paper


def draw_price_list(
    rows: Sequence[PriceListRow],
    heading: PriceListHeading,
    *,
    paper: str | Paper = "A4",
    style: ListStyle = ListStyle.LIST,
) -> bytes:
    with write_price_list(rows, heading, paper=paper, style=style) as file:
        return file.read()
