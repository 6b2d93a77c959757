"""Whether judges agree: they rank the same pieces. Their agreement says that the pieces differ, not the arms."""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from inventory.comparisons.calculations.designs import Block, Score, midranks
from inventory.comparisons.calculations.reshuffling import any_difference
from inventory.errors import InventoryError
from studio.translation import _


@dataclass(frozen=True, slots=True)
class Agreement:
    """Kendall's W from 0 to 1, and how often chance agrees as much."""

    w: Fraction
    p: Fraction


def agreement(judges: Sequence[Sequence[Score]]) -> Agreement | None:
    """Kendall's W = 12·S / (m²(k³ − k) − m·Σ(t³ − t)) of m judges over k pieces (M. G. Kendall, Rank Correlation
    Methods; from memory), its probability by reshuffling each judge's scores.

    None where no judge told any pieces apart. Raises InventoryError for fewer than two judges or pieces.
    """
    m, k = len(judges), len(judges[0]) if judges else 0
    if m < 2 or k < 2 or any(len(scores) != k for scores in judges):
        raise InventoryError(_("Agreement needs two judges who scored the same two or more pieces."))
    ranks = [midranks(scores) for scores in judges]  # doubled, so S below is four times too large
    totals = [sum(column, Fraction(0)) for column in zip(*ranks, strict=True)]
    middle = sum(totals, Fraction(0)) / k
    s = sum(((total - middle) ** 2 for total in totals), Fraction(0)) / 4
    ties = sum(count**3 - count for row in ranks for count in (row.count(rank) for rank in set(row)))
    whole = m * m * (k**3 - k) - m * ties
    if not whole:
        return None
    w = 12 * s / whole
    blocks = [Block(tuple(range(k)), (row,)) for row in ranks]
    return Agreement(w, any_difference(blocks))
