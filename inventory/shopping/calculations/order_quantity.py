"""How much of one material to order at a time.

The economic order quantity (F. W. Harris, How Many Parts to Make at Once, 1913) is where a year's carriage and a
year's cost of holding stock are least together: √(2KD ÷ h), for K an order, D used in a year, h to hold one for a year.
"""

from collections.abc import Sequence
from math import isqrt, sqrt

# What a year of holding stock costs for each unit of its price: money tied up, room, what goes off. Common practice,
# no source.
HOLDING_A_YEAR = 0.25
DAYS_A_YEAR = 365


def economic_quantity(*, an_order: float, a_year: float, to_hold: float) -> float:
    """The quantity with which orders and holding cost least together, in the unit that `a_year` is used in.

    `an_order` is what each order costs whatever is in it, `to_hold` what it costs to hold one for a year. Nothing
    where nothing is used or an order costs nothing: then the least that can be bought is best.
    """
    return sqrt(2 * an_order * a_year / to_hold) if to_hold > 0 else 0.0


def cost_a_year(quantity: float, *, an_order: float, a_year: float, to_hold: float) -> float:
    """What orders of a quantity and holding half of it cost in a year."""
    return an_order * a_year / quantity + to_hold * quantity / 2


def economic_packs(*, an_order: float, a_year: float, to_hold: float, pack: float) -> int:
    """The same in whole packs, one at least: with one pack more, a year would cost no less.

    A year costs as much with n packs as with n + 1 where n(n + 1) is (quantity ÷ pack)², so the smallest n for which
    it is no smaller is best.
    """
    packs = economic_quantity(an_order=an_order, a_year=a_year, to_hold=to_hold) / pack
    n = max((isqrt(int(1 + 4 * packs * packs)) - 1) // 2, 1)
    while n * (n + 1) < packs * packs:
        n += 1
    return n


def economic_packs_at(
    prices: Sequence[tuple[int, float]],
    *,
    an_order: float,
    a_year: float,
    pack: float,
    holding: float = HOLDING_A_YEAR,
) -> int:
    """How many packs cost least over a year where the price of all of them falls with how many are bought at once.

    `prices` are what each pack costs from so many on, fewest first; holding one costs a share of its price. Each
    price's own quantity is held to where that price is asked; the one that costs least over the year is taken.
    """
    ends = [least - 1 for least, _price in prices[1:]] + [None]
    candidates = []
    for (least, price), end in zip(prices, ends, strict=True):
        to_hold = holding * price / pack
        packs = max(economic_packs(an_order=an_order, a_year=a_year, to_hold=to_hold, pack=pack), least, 1)
        packs = packs if end is None else min(packs, end)
        held = cost_a_year(packs * pack, an_order=an_order, a_year=a_year, to_hold=to_hold)
        candidates.append((price / pack * a_year + held, packs))
    return min(candidates)[1]


def most_to_hold(
    *, a_day: float, usual_days: float, keeps_days: int | None, storage_limit: int | None
) -> int | None:
    """The most that stock and what is on order should come to after ordering; None where nothing limits it.

    What is there when a delivery arrives, the use of its usual days gone, should be used up while it keeps, and should
    fit where it is stored.
    """
    limits = []
    if keeps_days is not None and a_day > 0:
        limits.append(a_day * keeps_days)
    if storage_limit is not None:
        limits.append(float(storage_limit))
    return round(min(limits) + a_day * usual_days) if limits else None
