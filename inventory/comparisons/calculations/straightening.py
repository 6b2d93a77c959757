"""From a photo taken at an angle to the piece as it is: the perspective that four tapped points fix.

Points of the photo are pixels from its top left. The piece is the unit square, or the disc that touches its sides.
"""

from collections.abc import Sequence
from fractions import Fraction
from math import atan2

from studio.errors import InputError
from studio.translation import _

Point = tuple[int, int]
# x = (au + bv + c) / (gu + hv + 1) and y = (du + ev + f) / (gu + hv + 1), for the point (u, v) of the unit square.
Perspective = tuple[Fraction, Fraction, Fraction, Fraction, Fraction, Fraction, Fraction, Fraction]
LEAST_SHARE = Fraction(1, 25)  # of the photo that the piece should fill: own choice


def in_turn(corners: Sequence[Point], photo: tuple[int, int]) -> list[Point]:
    """The four points clockwise from the first one. Raises InputError where they bound no piece in the photo."""
    width, height = photo
    if len(corners) != 4 or any(not (0 <= x <= width and 0 <= y <= height) for x, y in corners):
        raise InputError(_("Tap the four corners inside the photo."), field="corners")
    middle = (sum(x for x, _y in corners) / 4, sum(y for _x, y in corners) / 4)
    clockwise = sorted(corners, key=lambda corner: atan2(corner[1] - middle[1], corner[0] - middle[0]))
    first = clockwise.index(corners[0])
    clockwise = clockwise[first:] + clockwise[:first]
    if not all(_turn(*(clockwise[(place + step) % 4] for step in range(3))) > 0 for place in range(4)):
        raise InputError(
            _("These four points are not the corners of a piece. Tap them again."), field="corners"
        )
    if _double_area(clockwise) < 2 * LEAST_SHARE * width * height:
        raise InputError(
            _("The piece is too small in this photo. Take one that it fills, and tap its corners there."),
            field="corners",
        )
    return clockwise


def _turn(a: Point, b: Point, c: Point) -> int:
    """Above zero where one turns right from the way a to b on to c, as pixels run downwards."""
    return (b[0] - a[0]) * (c[1] - b[1]) - (b[1] - a[1]) * (c[0] - b[0])


def _double_area(corners: Sequence[Point]) -> int:
    return abs(
        sum(a[0] * b[1] - b[0] * a[1] for a, b in zip(corners, [*corners[1:], corners[0]], strict=True))
    )


def lies_on_its_side(corners: Sequence[Point], *, height: int, width: int) -> bool:
    """Whether the piece is wide in the photo and high on record, or the other way round."""
    a, b, c, d = corners
    across, down = _apart(a, b) + _apart(d, c), _apart(a, d) + _apart(b, c)
    return (across > down) != (width > height) and width != height


def _apart(a: Point, b: Point) -> float:
    return float(((a[0] - b[0]) ** 2 + (a[1] - b[1]) ** 2) ** 0.5)


def perspective(corners: Sequence[Point], *, is_round: bool = False) -> Perspective:
    """The perspective that takes the piece to these points of the photo, exactly.

    The points are its corners clockwise from the top left; of a round one the ends of two diameters at right angles,
    clockwise from the top. Unit square to quadrilateral in closed form: Heckbert, Fundamentals of Texture Mapping and
    Image Warping (1989), section 2.2.3. Raises InputError where the photo was taken too flat to be straightened.
    """
    (x0, y0), (x1, y1), (x2, y2), (x3, y3) = corners
    dx1, dx2, dy1, dy2 = x1 - x2, x3 - x2, y1 - y2, y3 - y2
    sx, sy = x0 - x1 + x2 - x3, y0 - y1 + y2 - y3
    whole = dx1 * dy2 - dx2 * dy1
    g, h = Fraction(sx * dy2 - dx2 * sy, whole), Fraction(dx1 * sy - sx * dy1, whole)
    found = (
        x1 - x0 + g * x1, x3 - x0 + h * x3, Fraction(x0), y1 - y0 + g * y1, y3 - y0 + h * y3, Fraction(y0), g, h,
    )  # fmt: skip
    found = _from_diamond(found) if is_round else found
    if min(1 + u * found[6] + v * found[7] for u in (0, 1) for v in (0, 1)) <= Fraction(1, 10):
        raise InputError(
            _("This photo was taken too much from the side. Take one from above."), field="corners"
        )
    return found


def _from_diamond(found: Perspective) -> Perspective:
    """The same for the square around a disc, when the four points are where the disc touches it.

    With s from the top to the right end and t from the top to the left one, s = u + v − ½ and t = v − u + ½.
    """
    a, b, c, d, e, f, g, h = found
    scale = 1 + (h - g) / 2
    if scale <= 0:
        raise InputError(
            _("This photo was taken too much from the side. Take one from above."), field="corners"
        )
    rows = ((a - b, a + b, c + (b - a) / 2), (d - e, d + e, f + (e - d) / 2))
    (a, b, c), (d, e, f) = rows
    return (
        a / scale,
        b / scale,
        c / scale,
        d / scale,
        e / scale,
        f / scale,
        (g - h) / scale,
        (g + h) / scale,
    )


def for_pixels(found: Perspective, width: int, height: int) -> tuple[float, ...]:
    """The same for a straightened picture of so many pixels, as Pillow's Image.transform takes it."""
    a, b, c, d, e, f, g, h = found
    return tuple(
        float(each) for each in (a / width, b / height, c, d / width, e / height, f, g / width, h / height)
    )
