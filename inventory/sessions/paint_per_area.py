"""How much paint a technique takes for its area, learned from finished pours: a robust line, shrunk while few.

Small surfaces lose more over the edge than large ones, so paint per area is a line in logarithms:
ln(mL/cm²) = α + β·u, where u = ln(edge ÷ edge of a 30 × 30 cm piece) and the edge is the face's perimeter over its
area. The line is fitted by Huber's M-estimator (P. J. Huber, Annals of Mathematical Statistics 35, 1964, 73-101; his
constant 1.345, from memory) by reweighting, so that one odd pour cannot carry it away. Ridge terms (own choice) hold α
at the technique's own figure as half a pour would, and β at 0.3, which is how much more small pieces usually take
(rule of thumb, no source); both fade as pours come in.

Quantities and areas are whole thousandths of mL and cm², rates microlitres per cm², edges 1/cm. This is an estimate,
not the books: it works in floats and is rounded once, where it leaves.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import exp, log, sqrt

from inventory.errors import InventoryError
from studio.translation import _
from studio.values.sizes import Size

# A face of 30 × 30 cm, for which a technique's own figure is meant: 120 cm around 900 cm².
USUAL_EDGE = 120 / 900
# Habits change: only so many of the latest pours speak for the next one.
LATEST_POURS = 20

# Own choice, all of them: the spread of like pours (a fifth), how far techniques' figures and the size term lie off.
_USUAL_SPREAD = 0.2
_SIZE_TERM = 0.3
_WEIGHT_OF_FIGURE = 1 / 2
_WEIGHT_OF_SIZE_TERM = 4 / 9
_SPREAD_COUNTS_AS = 4
_LARGEST_RESIDUAL = 0.5
_HUBER = 1.345 * _USUAL_SPREAD
_SETTLED = 1e-13
_MOST_ROUNDS = 500

# Student's t that 90 % lie below, for 4 to 23 degrees of freedom: so 80 % lie between it and its opposite.
_T_90 = (
    *(1.533206, 1.475884, 1.439756, 1.414924, 1.396815, 1.383029, 1.372184, 1.363430, 1.356217, 1.350171),
    *(1.345030, 1.340606, 1.336757, 1.333379, 1.330391, 1.327728, 1.325341, 1.323188, 1.321237, 1.319460),
)


@dataclass(frozen=True, slots=True)
class PastPour:
    """What one finished pour took (thousandths of a mL, run-off included) on what area, with what edge (1/cm).

    Raises InventoryError for one without an amount, an area or an edge.
    """

    quantity: int
    area: int
    edge: float

    def __post_init__(self) -> None:
        if self.quantity <= 0 or self.area <= 0 or self.edge <= 0:
            raise InventoryError(
                _("A past pour needs a surface and what was poured on it. Correct its record first.")
            )

    @property
    def rate(self) -> float:
        """Microlitres per cm²."""
        return self.quantity * 1000 / self.area


@dataclass(frozen=True, slots=True)
class Estimate:
    """Paint for one surface in microlitres per cm², run-off included; eight times in ten `low` to `high` holds."""

    value: int
    low: int
    high: int
    pours: int


@dataclass(frozen=True, slots=True)
class Learned:
    """A technique's fitted line, its spread and how sure it is; `inverse` is the upper half of the inverse matrix."""

    alpha: float
    beta: float
    spread: float
    pours: int
    inverse: tuple[float, float, float]

    def rate(self, edge: float) -> float:
        """Microlitres per cm² that the next pour on such a surface takes: as likely more as less."""
        return 1000 * exp(self.alpha + self.beta * _size(edge))

    def bounds(self, edge: float, count: int = 1) -> tuple[float, float]:
        """Lowest and highest mean rate of so many pours, eight times in ten: many differ less than one does.

        Their mean lies a little above the middle, as that of a lognormal does (its variance over two).
        """
        u, (a, b, c) = _size(edge), self.inverse
        unsure = a + 2 * b * u + c * u * u
        reach = _T_90[_freedom(self.pours) - _SPREAD_COUNTS_AS] * self.spread * sqrt(1 / count + unsure)
        middle = self.rate(edge) * exp(self.spread**2 / 2 * (1 - 1 / count))
        return middle * exp(-reach), middle * exp(reach)

    def estimate(self, edge: float, count: int = 1) -> Estimate:
        """The same in whole microlitres per cm²; a rate is never below one."""
        low, high = self.bounds(edge, count)
        return Estimate(max(1, round(self.rate(edge))), max(1, round(low)), max(1, round(high)), self.pours)


def edge_of(size: Size) -> float:
    """The face's perimeter over its area, per cm. For a round of diameter d and a square of side d it is 4/d."""
    return 2000 / size.height + 2000 / size.width


def learn(usual: int, pours: Sequence[PastPour]) -> Learned:
    """Fit the line to one technique's pours, at most the latest 20; `usual` is its own figure, in µL/cm²."""
    if usual <= 0 or len(pours) > LATEST_POURS:
        raise ValueError("A technique's own figure is above zero, and only its latest pours count.")
    points = [(log(pour.rate / 1000), _size(pour.edge)) for pour in pours]
    start = log(usual / 1000)
    alpha, beta = start, _SIZE_TERM
    for _round in range(_MOST_ROUNDS):
        before = alpha, beta
        inverse = _inverse_matrix(points, alpha, beta)
        alpha, beta = _solved(points, before, inverse, start)
        if abs(alpha - before[0]) + abs(beta - before[1]) < _SETTLED:
            break
    residuals = (abs(y - alpha - beta * u) for y, u in points)
    squares = sum(min(residual, _LARGEST_RESIDUAL) ** 2 for residual in residuals)
    variance = (_SPREAD_COUNTS_AS * _USUAL_SPREAD**2 + squares) / _freedom(len(pours))
    return Learned(alpha, beta, sqrt(variance), len(pours), _inverse_matrix(points, alpha, beta))


def forecasts(usual: int, pours: Sequence[PastPour]) -> list[float]:
    """What would have been expected of each pour, oldest first, knowing only those before it; in µL/cm²."""
    return [
        learn(usual, pours[max(0, place - LATEST_POURS) : place]).rate(pour.edge)
        for place, pour in enumerate(pours)
    ]


def _size(edge: float) -> float:
    return log(edge / USUAL_EDGE)


def _freedom(pours: int) -> int:
    return _SPREAD_COUNTS_AS + max(pours - 1, 0)


def _weight(residual: float) -> float:
    return min(1.0, _HUBER / abs(residual)) if residual else 1.0


def _inverse_matrix(
    points: Sequence[tuple[float, float]], alpha: float, beta: float
) -> tuple[float, float, float]:
    """The inverse of the weighted normal matrix, ridge terms included: its upper half."""
    a, b, c = _WEIGHT_OF_FIGURE, 0.0, _WEIGHT_OF_SIZE_TERM
    for y, u in points:
        weight = _weight(y - alpha - beta * u)
        a, b, c = a + weight, b + weight * u, c + weight * u * u
    determinant = a * c - b * b
    return c / determinant, -b / determinant, a / determinant


def _solved(
    points: Sequence[tuple[float, float]],
    line: tuple[float, float],
    inverse: tuple[float, float, float],
    start: float,
) -> tuple[float, float]:
    """One round of reweighted least squares from `line`."""
    first, second = _WEIGHT_OF_FIGURE * start, _WEIGHT_OF_SIZE_TERM * _SIZE_TERM
    for y, u in points:
        weight = _weight(y - line[0] - line[1] * u)
        first, second = first + weight * y, second + weight * y * u
    a, b, c = inverse
    return a * first + b * second, b * first + c * second
