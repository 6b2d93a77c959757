"""A price list with photos, beside the same marks on a bare canvas. Needs no database: a paper takes plain rows."""

import tracemalloc
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import partial
from io import BytesIO
from random import Random
from typing import Any
from unittest.mock import patch

from PIL import Image
from reportlab.lib.utils import ImageReader
from reportlab.pdfgen import canvas

from costing.papers.price_list import ListStyle, PriceListHeading, PriceListRow, write_price_list
from studio.photos import THUMBNAIL_SIDE, develop
from tests.benchmarks.figures import Figure, side_by_side
from tests.costing.papers.drawing import draw_price_list
from tests.pictures import encoded

PIECES = 1_000
CELLS = 16  # blots of colour along the side of a picture
WORDS = ("low", "high", "tide", "harbour", "lantern", "over", "sand", "shoal", "ebb", "north-easterly")
HEADING = PriceListHeading(
    "Slack Water Studio", "Lantern Quay, 3 June 2026", "Prices in GBP.", "Prices include tax."
)


def print_price_list(*, runs: int, part: int) -> Figure:
    """Layout and all; with the size of the file, and the memory that the last four fifths of the rows add."""
    pieces = max(5, PIECES // part)
    rows = price_list_rows(pieces)
    draw = partial(draw_price_list, rows, HEADING)
    size = len(draw())  # fonts are read here, so that the memory they take counts for nobody
    few, all_of_them = (_peak(partial(_write, some)) for some in (rows[: pieces // 5], rows))
    note = f"{size / 1e6:.1f} MB file, {all_of_them - few:.1f} MB more memory than for {pieces // 5:,}"
    marks = Marks.of(draw)
    return side_by_side(f"P8 price list of {pieces:,} pieces", draw, marks.draw, runs=max(1, runs), note=note)


def _write(rows: list[PriceListRow]) -> None:
    write_price_list(rows, HEADING, paper="A4", style=ListStyle.LIST).close()


@dataclass
class Marks:
    """Every call that a drawing makes on its canvas, to be made again with nothing round it."""

    options: dict[str, Any] = field(default_factory=dict)
    calls: list[tuple[str, tuple[Any, ...], dict[str, Any]]] = field(default_factory=list)

    @classmethod
    def of(cls, draw: Callable[[], object]) -> "Marks":
        marks, real = cls(), canvas.Canvas

        class Recording:
            def __init__(self, file: str, **options: Any) -> None:
                self._canvas, marks.options = real(file, **options), options

            def __getattr__(self, name: str) -> Any:
                if name.startswith("_"):  # what the file is written from
                    return getattr(self._canvas, name)

                def call(*args: Any, **named: Any) -> Any:
                    if name != "beginPath":  # makes no mark; the path it begins is handed to drawPath
                        marks.calls.append((name, args, named))
                    return getattr(self._canvas, name)(*args, **named)

                return call

        with patch.object(canvas, "Canvas", Recording):
            draw()
        return marks

    def draw(self) -> bytes:
        bare = canvas.Canvas("", **self.options)
        for name, args, named in self.calls:
            if name == "drawImage":  # a photo is read from its bytes on either side
                args = (ImageReader(BytesIO(args[0].fp.getvalue())), *args[1:])
            getattr(bare, name)(*args, **named)
        return bytes(bare.getpdfdata())  # type: ignore[no-untyped-call]


def price_list_rows(pieces: int) -> list[PriceListRow]:
    """So many made-up pieces, each with a photo of its own."""
    return [_row(number) for number in range(pieces)]


def _row(number: int) -> PriceListRow:
    chance = Random(number)
    return PriceListRow(
        code=f"P{number:04}",
        title=" ".join(chance.choices(WORDS, k=chance.randint(2, 9))).capitalize(),
        size_cm=f"{chance.randint(10, 90)} × {chance.randint(10, 90)} cm",
        size_in=f"{chance.randint(4, 35)}.5 × {chance.randint(4, 35)}.2 in",
        medium=chance.choice(["Ring pour", "Swipe", "Flip cup", "Straight pour"]),
        year="2026",
        price=f"£{chance.randint(20, 900)}.00",
        thumbnail=_thumbnail(chance),
    )


def _thumbnail(chance: Random) -> bytes:
    """A picture of its own for every piece, kept as the studio keeps photos for price lists."""
    cells = Image.frombytes("RGB", (CELLS, CELLS), chance.randbytes(3 * CELLS * CELLS))
    kept = develop(encoded(cells.resize((THUMBNAIL_SIDE, THUMBNAIL_SIDE)))).listed
    return bytes(kept.read())


def _peak(draw: Callable[[], object]) -> float:
    """The most memory that a drawing holds at once beyond its rows, in megabytes."""
    tracemalloc.start()
    try:
        draw()
        return tracemalloc.get_traced_memory()[1] / 1e6
    finally:
        tracemalloc.stop()
