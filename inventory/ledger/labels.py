"""What she writes on jars and surfaces: the number of a row in the ledger, with a letter before it."""

import re
from collections.abc import Iterable
from typing import NamedTuple

# What is read as a number: P0012, p12, P0012-2, and the first of a set copied whole ("P0012–P0015").
_CANVAS = re.compile(r"p0*([1-9]\d{0,8})(?:-(\d{1,4}))?(?:–\S*)?,?", re.IGNORECASE | re.ASCII)
_LOT = re.compile(r"l0*([1-9]\d{0,8})", re.IGNORECASE | re.ASCII)


class CanvasNumber(NamedTuple):
    """A canvas, by its first pour; with the layer where one pour on it is meant."""

    canvas: int
    layer: int | None = None


def lot_label(number: int) -> str:
    """On the jar."""
    return f"L{number:04d}"


def read_lot_label(text: str) -> int | None:
    """The number of a lot as it was typed or scanned: L0012, l12. None for any other word."""
    read = _LOT.fullmatch(text.strip())
    return int(read[1]) if read else None


def canvas_label(canvas: int) -> str:
    """On the back of the surface, from its first pour to the sold piece."""
    return f"P{canvas:04d}"


def pour_label(canvas: int, layer: int = 1) -> str:
    """A pour goes by its canvas; one that was poured over another says so: P0012, then P0012-2."""
    return canvas_label(canvas) if layer == 1 else f"{canvas_label(canvas)}-{layer}"


def canvases_label(canvases: Iterable[int]) -> str:
    """Several canvases that are one thing, runs of numbers drawn together: P0012–P0015, P0021."""
    runs: list[list[int]] = []
    for canvas in sorted(set(canvases)):
        if runs and runs[-1][-1] == canvas - 1:
            runs[-1].append(canvas)
        else:
            runs.append([canvas])
    ends = (dict.fromkeys(canvas_label(run[end]) for end in (0, -1)) for run in runs)
    return ", ".join("–".join(each) for each in ends)


def read_canvas_label(text: str) -> CanvasNumber | None:
    """The number that was typed or copied; None for any other word."""
    read = _CANVAS.fullmatch(text.strip())
    if read is None:
        return None
    return CanvasNumber(int(read[1]), int(read[2]) if read[2] else None)
