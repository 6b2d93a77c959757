"""How much paint a surface takes, and whether the shelf holds enough.

Quantities, areas and lengths are thousandths of mL, cm² and cm. A rate is paint poured in microlitres per
cm², so 0.18 mL/cm² is 180. Run-off is part of what is poured: it is inside the rate and is never added to
it.
"""

from fractions import Fraction

from inventory.errors import InventoryError
from studio.translation import _
from studio.values.allocation import MILLION, THOUSANDTHS, divide_half_up


def paint_needed(area: int, rate: int, reserve: int = 0) -> int:
    """Return thousandths of a mL for an area at a rate, plus a reserve in millionths, rounded once."""
    if area <= 0 or rate < 0 or reserve < 0:
        raise InventoryError(_("Enter a surface above zero, and a rate and extra paint of zero or more."))
    exact = exact_paint(area, rate, reserve)
    return divide_half_up(exact.numerator, exact.denominator)


def exact_paint(area: int, rate: int, reserve: int = 0) -> Fraction:
    """The same without the rounding."""
    return Fraction(area * rate * (MILLION + reserve), THOUSANDTHS * MILLION)


def paint_rate(poured: int, area: int) -> int:
    """Microlitres poured per cm², run-off included."""
    return divide_half_up(poured * THOUSANDTHS, area)
