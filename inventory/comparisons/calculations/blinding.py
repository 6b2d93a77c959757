"""Codes that hide which arm a piece is of, and orders of scoring in which no arm follows another too often."""

from collections.abc import Sequence
from itertools import product
from random import Random

from inventory.comparisons.calculations.designs import williams_square
from inventory.errors import InventoryError
from studio.translation import _

# Neither I nor O, which read as digits, nor Q, which reads as O.
LETTERS = "ABCDEFGHJKLMNPRSTUVWXYZ"


def codes(count: int, lot: Random, *, taken: Sequence[str] = ()) -> list[str]:
    """So many two-letter codes, drawn by lot, none of them taken. Raises InventoryError when they run out."""
    free = ["".join(pair) for pair in product(LETTERS, repeat=2) if "".join(pair) not in set(taken)]
    if count > len(free):
        raise InventoryError(_("There are only {n} codes. Compare fewer pours.", n=len(free)))
    return lot.sample(free, count)


def scoring_order(arms: Sequence[int], lot: Random) -> list[int]:
    """In which order to score pieces, given the arm (from 0) of each: positions in `arms`.

    Rows of a Williams square say which arm is next; which of its pieces, is drawn by lot.
    """
    waiting: dict[int, list[int]] = {}
    for position, arm in enumerate(arms):
        waiting.setdefault(arm, []).append(position)
    for pieces in waiting.values():
        lot.shuffle(pieces)
    names = sorted(waiting)
    lot.shuffle(names)
    rows = williams_square(len(names)) if len(names) > 1 else [[0]]
    order: list[int] = []
    while len(order) < len(arms):
        for row in rows:
            order += [waiting[names[place]].pop() for place in row if waiting[names[place]]]
    return order
