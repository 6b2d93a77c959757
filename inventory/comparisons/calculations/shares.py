"""How far a share of few pours can be trusted."""

from math import sqrt
from statistics import NormalDist
from typing import NamedTuple

from studio.values.allocation import MILLION


class ShareRange(NamedTuple):
    """From one share to another, in millionths."""

    least: int
    most: int


def likely_share(found: int, of: int) -> ShareRange:
    """Between which shares, in millionths, that of all such pours lies in 19 cases of 20, when `found` of `of` had it.

    Wilson's interval, which stays between 0 and 1 and holds for few pours too: E. B. Wilson, Probable inference, the
    law of succession, and statistical inference, Journal of the American Statistical Association 22 (1927).
    """
    share, z = found / of, NormalDist().inv_cdf(0.975)
    middle = share + z * z / (2 * of)
    reach = z * sqrt(share * (1 - share) / of + z * z / (4 * of * of))
    low, high = ((middle + side) / (1 + z * z / of) for side in (-reach, reach))
    return ShareRange(round(max(low, 0) * MILLION), round(min(high, 1) * MILLION))
