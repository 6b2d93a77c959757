"""How much paint a surface takes, and whether the shelf holds enough.

Quantities, areas and lengths are thousandths of mL, cm² and cm. A rate is paint poured in microlitres per
cm², so 0.18 mL/cm² is 180. Run-off is part of what is poured: it is inside the rate and is never added to
it.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from statistics import median

from inventory.errors import InventoryError
from inventory.recipes.calculations import Recipe, expand
from studio.translation import _
from studio.values.allocation import divide_half_up

MILLION = 1_000_000
POURS_FOR_OWN_RATE = 3


class CoverageError(InventoryError):
    """Raised when a surface, a rate or a plan cannot be right: nothing to cover, or a negative figure."""


@dataclass(frozen=True, slots=True)
class Rate:
    """Paint poured in microlitres per cm², run-off included, and where the figure comes from."""

    value: int
    source: str


@dataclass(frozen=True, slots=True)
class PastPour:
    """What one finished pour used (thousandths of a mL, run-off included) on how large a surface."""

    quantity: int
    area: int


@dataclass(frozen=True, slots=True)
class CoverLine:
    """One material of a plan: what it needs and what is held, None being what never runs out."""

    material: int
    needed: int
    held: int | None

    @property
    def short(self) -> int:
        """What is missing, 0 when there is enough."""
        return 0 if self.held is None else max(self.needed - self.held, 0)


_FROM_MEMORY: Mapping[str, int] = {
    "dutch": 160,
    "flip cup": 220,
    "dirty": 220,
    "ring": 220,
    "swipe": 220,
    "straight": 200,
}
# One fluid ounce per 25 square inches: 29.57 mL over 161.29 cm².
_COMMON_PRACTICE = 180


def default_rate(technique: str) -> Rate:
    """Return the starting rate for a technique, before there is any history of one's own."""
    value = _FROM_MEMORY.get(technique.replace("_", " ").strip().lower())
    return (
        Rate(_COMMON_PRACTICE, _("general rule of thumb"))
        if value is None
        else Rate(value, _("rule of thumb, replaced by your own pours"))
    )


def median_rate(pours: Sequence[PastPour], default: Rate) -> Rate:
    """Return the median of one's own like pours (technique and size) from three on, else the default."""
    if any(pour.area <= 0 or pour.quantity < 0 for pour in pours):
        raise CoverageError(
            _("A past pour needs a surface and what was poured on it. Correct its record first.")
        )
    if len(pours) < POURS_FOR_OWN_RATE:
        return default
    middle = median(Fraction(pour.quantity * 1000, pour.area) for pour in pours)
    source = _("your own recent pours ({count})", count=len(pours))
    return Rate(divide_half_up(middle.numerator, middle.denominator), source)


def paint_needed(area: int, rate: int, reserve: int = 0) -> int:
    """Return thousandths of a mL for an area at a rate, plus a reserve in millionths, rounded once."""
    if area <= 0 or rate < 0 or reserve < 0:
        raise CoverageError(_("Enter a surface above zero, and a rate and extra paint of zero or more."))
    return divide_half_up(area * rate * (MILLION + reserve), 1000 * MILLION)


def volume_of_film(area: int, film: int) -> int:
    """Return the volume of a wet film in micrometres: V (mL) = area (cm²) × film (mm) ÷ 10."""
    return divide_half_up(area * film, 10_000)


def film_of_volume(area: int, volume: int) -> int:
    """Return the wet film in micrometres that a volume would make if none of it ran off."""
    if area <= 0:
        raise CoverageError(_("A film needs a surface: enter its height and width."))
    return divide_half_up(volume * 10_000, area)


def enough(requirements: Mapping[int, int], held: Mapping[int, int | None]) -> list[CoverLine]:
    """Set need against stock, material by material, in the order of the requirements."""
    return [CoverLine(material, needed, held.get(material, 0)) for material, needed in requirements.items()]


def is_enough(lines: Iterable[CoverLine]) -> bool:
    """Tell whether no line of a plan is short."""
    return not any(line.short for line in lines)


def most_surfaces(need_each: Mapping[int, int], held: Mapping[int, int | None]) -> int | None:
    """Return how many surfaces can be made at most, None when nothing limits them."""
    limits = [
        amount // needed
        for material, needed in need_each.items()
        if needed > 0 and (amount := held.get(material, 0)) is not None
    ]
    return min(limits, default=None)


def most_from_recipes(
    wanted_each: Mapping[int, int], recipes: Mapping[int, Recipe], held: Mapping[int, int | None]
) -> int | None:
    """Return how many surfaces can be made when mixes are made as needed and made stock is used up first.

    Made stock makes the need uneven from one surface to the next, so the answer is searched for by
    doubling and halving. None when nothing bought limits it. Raises what mixing.expand raises.
    """
    made = {
        material: amount for material, amount in held.items() if amount is not None and material in recipes
    }

    def fits(count: int) -> bool:
        wanted = {material: needed * count for material, needed in wanted_each.items()}
        return is_enough(enough(expand(wanted, recipes, made).bought, held))

    # A need of a thousandth could round away to nothing, so the test for a limit asks for a great deal.
    unlimited = {material: needed * MILLION for material, needed in wanted_each.items()}
    if all(held.get(material, 0) is None for material in expand(unlimited, recipes).bought):
        return None
    beyond = 1
    while fits(beyond):
        beyond *= 2
    low = beyond // 2
    while beyond - low > 1:
        middle = (low + beyond) // 2
        low, beyond = (middle, beyond) if fits(middle) else (low, middle)
    return low
