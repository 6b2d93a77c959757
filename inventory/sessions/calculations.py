"""How much paint a surface takes, whether the shelf holds enough, and pours that differ in one thing side by side.

Quantities, areas and lengths are thousandths of mL, cm² and cm. A rate is paint poured in microlitres per
cm², so 0.18 mL/cm² is 180. Run-off is part of what is poured: it is inside the rate and is never added to
it.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from inventory.errors import InventoryError
from studio.translation import _
from studio.values.allocation import divide_half_up

MILLION = 1_000_000
# Beyond this, the arms were not given the same amount of paint (common practice, no source): one tenth.
POURED_ALIKE_WITHIN = 10


def paint_needed(area: int, rate: int, reserve: int = 0) -> int:
    """Return thousandths of a mL for an area at a rate, plus a reserve in millionths, rounded once."""
    if area <= 0 or rate < 0 or reserve < 0:
        raise InventoryError(_("Enter a surface above zero, and a rate and extra paint of zero or more."))
    exact = exact_paint(area, rate, reserve)
    return divide_half_up(exact.numerator, exact.denominator)


def exact_paint(area: int, rate: int, reserve: int = 0) -> Fraction:
    """The same without the rounding."""
    return Fraction(area * rate * (MILLION + reserve), 1000 * MILLION)


@dataclass(frozen=True, slots=True)
class ArmPour:
    """One pour of a comparison: its arm, outcome, cost (millionths), rate (µL per cm²), and other facts by name."""

    arm: str
    is_good: bool
    cost: int
    rate: int
    facts: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Arm:
    """What one arm came to; cost in millionths of the currency unit, failed pours included."""

    name: str
    pours: int
    good: int
    cost: int
    rate: int

    @property
    def failed(self) -> int:
        return self.pours - self.good

    @property
    def cost_per_good_pour(self) -> int | None:
        """The arm's whole cost over its good pours; None when none turned out."""
        return divide_half_up(self.cost, self.good) if self.good else None


def compare(pours: Sequence[ArmPour]) -> list[Arm]:
    """Sum every arm up, in the order in which they first appear."""
    return [
        Arm(
            name,
            len(members),
            sum(pour.is_good for pour in members),
            sum(pour.cost for pour in members),
            divide_half_up(sum(pour.rate for pour in members), len(members)),
        )
        for name, members in _by_arm(pours).items()
    ]


def other_differences(pours: Sequence[ArmPour]) -> list[tuple[str, list[tuple[str, str]]]]:
    """What else is not alike, as it is in each arm: it may be the real reason for the result."""
    arms = _by_arm(pours)
    differences = []
    for what in dict.fromkeys(name for pour in pours for name in pour.facts):
        by_arm = {
            arm: sorted({pour.facts.get(what, "") for pour in members}) for arm, members in arms.items()
        }
        if len({tuple(values) for values in by_arm.values()}) > 1:
            differences.append((what, [(arm, ", ".join(values)) for arm, values in by_arm.items()]))
    return differences


def poured_unlike(arms: Sequence[Arm]) -> bool:
    """Tell whether the arms' mean amounts poured per area lie more than a tenth of the largest apart."""
    rates = [arm.rate for arm in arms]
    return bool(rates) and (max(rates) - min(rates)) * POURED_ALIKE_WITHIN > max(rates)


def _by_arm(pours: Sequence[ArmPour]) -> dict[str, list[ArmPour]]:
    arms: dict[str, list[ArmPour]] = {}
    for pour in pours:
        arms.setdefault(pour.arm, []).append(pour)
    return arms
