"""Whether a cup was mixed in the proportions of its recipe, and in which it was mixed instead. No Django.

Parts are thousandths of a part; amounts are whole thousandths of each material's own base unit.
"""

from collections.abc import Sequence
from fractions import Fraction

from inventory.recipes.measuring import is_near_enough, to_step

NEAT = (1000, 250, 100, 10)
MOST_PARTS = (
    100_000  # from here on parts are written by the thousand: an additive by the drop makes all others large
)
FINE, COARSE = 1, 10  # a number of parts is written to hundredths, one below one to thousandths


def mixed_as(
    parts: Sequence[int], planned: Sequence[Fraction], used: Sequence[int], steps: Sequence[int]
) -> list[Fraction] | None:
    """The parts that a cup was mixed in, where it is off by more than is measured out; None where it is not.

    `planned` is what any cup by the recipe takes of each part, `used` what this one took, `steps` what can be told
    apart of each. The numbers are those of the recipe wherever a part is as planned beside the others.
    """
    if not any(used):
        return None
    by_part = [Fraction(amount) / plan for amount, plan in zip(used, planned, strict=True) if amount]
    whole = sum(used) / sum(planned, Fraction(0))

    def fitting(scale: Fraction) -> int:
        triples = zip(planned, used, steps, strict=True)
        return sum(is_near_enough(plan * scale, amount, step) for plan, amount, step in triples)

    def at(scale: Fraction) -> list[Fraction]:
        return [
            part * amount / (plan * scale) for part, amount, plan in zip(parts, used, planned, strict=True)
        ]

    if max(map(fitting, [*by_part, whole])) == len(parts):
        return None
    return at(max(by_part, key=lambda scale: (fitting(scale), -_roughness(at(scale)))))


def as_written(parts: Sequence[int | Fraction], *, largest: int) -> list[int]:
    """Parts as they can be read; `largest` is the largest part of the recipe, by which both are written."""
    times = 1000 if largest > MOST_PARTS else 1
    return [to_step(part / Fraction(times), COARSE if part >= 1000 * times else FINE) for part in parts]


def _roughness(parts: Sequence[Fraction]) -> int:
    """How far numbers are from those that people write: whole ones first, then quarters, then few decimals."""
    written = as_written(parts, largest=0)
    return sum(
        next((rank for rank, step in enumerate(NEAT) if part % step == 0), len(NEAT)) for part in written
    )
