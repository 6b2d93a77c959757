"""Invented pour pictures: rings, cells, ribbons and blown veils in a palette's own colours."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import cos, sin, tau
from random import Random

from PIL import Image, ImageDraw, ImageFilter

SIDE = 480
FINE = 2  # drawn twice as large, then made smaller: smooth edges
WALL = (232, 227, 217)
POINTS = 150
FILLED = 0.84  # of the picture by a single piece

Colour = tuple[int, int, int]
Point = tuple[float, float]
Wave = tuple[float, float, float]  # how many to the round or the width, how high, where it begins


@dataclass(frozen=True, slots=True)
class View:
    """What is in the picture: the technique, the colours with their shares, the shapes on the wall."""

    technique: str
    colours: Sequence[tuple[Colour, int]]
    shape: str
    height: int = 1
    width: int = 1


def draw_pour(view: View, rng: Random, *, size: int = SIDE) -> Image.Image:
    """A square picture of one piece on a wall, so many pixels wide."""
    side = size * FINE
    picture = Image.new("RGB", (side, side), WALL)
    for box in _boxes(view, side):
        width, height = box[2] - box[0], box[3] - box[1]
        painted = _paint(view, rng, max(width, height)).crop((0, 0, width, height))
        outline = Image.new("L", (width, height), 0)
        shape = ImageDraw.Draw(outline)
        (shape.ellipse if view.shape in ("round", "set") else shape.rectangle)(
            (0, 0, width - 1, height - 1), fill=255
        )
        _cast_shadow(picture, outline, box)
        picture.paste(painted, box[:2], outline)
    return picture.resize((size, size), Image.Resampling.LANCZOS)


def colour_of(code: str) -> Colour:
    """A colour such as #2a5a9c as red, green and blue."""
    return int(code[1:3], 16), int(code[3:5], 16), int(code[5:7], 16)


def _boxes(view: View, side: int) -> Iterator[tuple[int, int, int, int]]:
    """Where the shapes hang: one in the middle, two side by side, or four."""
    if view.shape == "set":
        for column in (0.08, 0.53):
            for row in (0.08, 0.53):
                yield (
                    round(side * column),
                    round(side * row),
                    round(side * (column + 0.39)),
                    round(side * (row + 0.39)),
                )
    elif view.shape == "pair":
        for column in (0.05, 0.52):
            yield round(side * column), round(side * 0.28), round(side * (column + 0.43)), round(side * 0.71)
    else:
        longest = max(view.height, view.width)
        width, height = (round(side * FILLED * length / longest) for length in (view.width, view.height))
        left, top = (side - width) // 2, (side - height) // 2
        yield left, top, left + width, top + height


def _cast_shadow(picture: Image.Image, outline: Image.Image, box: tuple[int, int, int, int]) -> None:
    margin = 24
    shadow = Image.new("L", (outline.width + 2 * margin, outline.height + 2 * margin), 0)
    shadow.paste(outline.point(lambda value: value * 2 // 5), (margin, margin))
    shadow = shadow.filter(ImageFilter.GaussianBlur(9))
    picture.paste((92, 82, 70), (box[0] - margin + 5, box[1] - margin + 10), shadow)


def _paint(view: View, rng: Random, side: int) -> Image.Image:
    """The poured surface, as large as asked."""
    ground = view.colours[0][0]
    painted = Image.new("RGB", (side, side), ground)
    brush = ImageDraw.Draw(painted)
    if view.technique in ("Ring pour", "Puddle pour"):
        _rings(brush, rng, view, (side * rng.uniform(0.42, 0.58), side * rng.uniform(0.42, 0.58)), side * 0.8)
    elif view.technique in ("Flip cup", "Dirty pour"):
        _ribbons(brush, rng, view, side, slope=rng.uniform(-0.5, 0.5))
        for _ in range(9):
            centre = (side * rng.random(), side * rng.random())
            _rings(brush, rng, view, centre, side * rng.uniform(0.05, 0.16), step=0.3)
    elif view.technique == "Dutch pour":
        _veils(brush, rng, view, side)
    else:
        _ribbons(brush, rng, view, side, slope=rng.uniform(-0.25, 0.25))
    return painted.filter(ImageFilter.GaussianBlur(1.2))


def _bands(rng: Random, view: View) -> Iterator[tuple[Colour, float]]:
    """Colours in turn without end, each as wide as its share of the pour, a little lighter or darker each time."""
    colours = [(colour, share / 100) for colour, share in view.colours]
    while True:
        for colour, share in rng.sample(colours, len(colours)):
            lighter = rng.randint(-9, 9)
            red, green, blue = (min(max(part + lighter, 0), 255) for part in colour)
            yield (red, green, blue), share * rng.uniform(0.5, 1.3)


def _rings(
    brush: ImageDraw.ImageDraw,
    rng: Random,
    view: View,
    centre: Point,
    radius: float,
    step: float = 0.12,
    waves: Sequence[Wave] = (),
) -> None:
    """Tree rings: outlines within outlines, all bent alike and each a little differently."""
    waves = waves or [
        (count, rng.uniform(0.02, 0.1) / count**0.5, rng.uniform(0, tau)) for count in (2, 3, 5, 8)
    ]
    for colour, share in _bands(rng, view):
        outline = []
        for point in range(POINTS):
            angle = tau * point / POINTS
            bend = 1 + sum(size * sin(count * angle + turn) for count, size, turn in waves)
            outline.append((centre[0] + radius * bend * cos(angle), centre[1] + radius * bend * sin(angle)))
        brush.polygon(outline, fill=colour)
        waves = [(count, size, turn + rng.uniform(-0.09, 0.09)) for count, size, turn in waves]
        radius *= 1 - step * (0.3 + 1.6 * share)
        if radius < 4:
            return


def _ribbons(brush: ImageDraw.ImageDraw, rng: Random, view: View, side: int, slope: float) -> None:
    """Ribbons of paint from edge to edge, one edge flowing into the next."""
    waves = [(rng.uniform(0.5, 3.2), side * rng.uniform(0.015, 0.07), rng.uniform(0, tau)) for _ in range(4)]
    top = -side * 0.5
    for colour, share in _bands(rng, view):
        edge = [
            (side * point / 60, top + slope * side * point / 60 + _swell(waves, point / 60))
            for point in range(-2, 63)
        ]
        brush.polygon([*edge, (side * 1.1, side * 2), (-side * 0.1, side * 2)], fill=colour)
        waves = [(count, size, turn + rng.uniform(-0.22, 0.22)) for count, size, turn in waves]
        top += side * 0.16 * share + 3
        if top > side * 1.5:
            return


def _swell(waves: Sequence[Wave], along: float) -> float:
    return sum(size * sin(tau * count * along + turn) for count, size, turn in waves)


def _veils(brush: ImageDraw.ImageDraw, rng: Random, view: View, side: int) -> None:
    """Blown paint: wings thrown outwards over bare ground, one within the other."""
    for _ in range(2):
        centre = (side * rng.uniform(0.36, 0.64), side * rng.uniform(0.36, 0.64))
        wings = [(count, rng.uniform(0.1, 0.3), rng.uniform(0, tau)) for count in (2, 3, 5)]
        ripples = [(count, rng.uniform(0.01, 0.04), rng.uniform(0, tau)) for count in (9, 14, 23)]
        _rings(brush, rng, view, centre, side * rng.uniform(0.26, 0.36), step=0.17, waves=[*wings, *ripples])
