"""Ways to a price: by what it cost, by the hour, by its size, from trade to retail; and where a price ends.

Money is millionths of the currency unit, rates millionths (20 % = 200,000), areas thousandths of a cm², lengths
thousandths of a cm, time in seconds. Pure. Not tax or legal advice.
"""

from dataclasses import dataclass
from enum import StrEnum
from typing import NamedTuple

from costing.errors import CostingError
from costing.pricing.calculations import WHOLE_UNIT, Channel, first_price, least_price, price_from_markup
from studio.translation import _
from studio.values.allocation import MILLION, THOUSANDTHS, divide_half_up

SECONDS_IN_AN_HOUR = 3_600


class Method(StrEnum):
    """How a price comes about."""

    MARKUP = "markup"
    MARGIN = "margin"
    WAGE = "wage"
    AREA = "area"
    SIDES = "sides"
    RETAIL = "retail"


class Ending(StrEnum):
    """Where prices end."""

    EXACT = "exact"
    WHOLE = "whole"
    FIVES = "fives"
    HALF = "half"
    NINETY_FIVE = "95"
    NINETY_NINE = "99"


class FailureAllowance(StrEnum):
    """Whether ways to a price allow for pours that fail, and by which rate."""

    NONE = "none"
    COUNTED = "counted"
    TYPED = "typed"


class FailureRate(NamedTuple):
    """So many of so many pours fail: counted, or typed as a share of a million."""

    failed: int
    judged: int
    is_counted: bool

    @property
    def share(self) -> int:
        """The same in millionths; 0 where nothing was judged."""
        return divide_half_up(self.failed * MILLION, self.judged) if self.judged else 0

    @property
    def good(self) -> int:
        return self.judged - self.failed

    @property
    def carried(self) -> int:
        """What each good pour carries of the failed ones, in millionths of a pour; 0 where none came out well."""
        return divide_half_up(self.failed * MILLION, self.good) if self.good else 0

    def allowance(self, cost: int, *, minor_unit: int) -> int:
        """Return cost × failed ÷ good, rounded half up to the minor unit; 0 where nothing came out well.

        Every good piece carries its share of the failed ones: at one in five, a quarter of a piece.
        """
        if not self.good:
            return 0
        return divide_half_up(cost * self.failed, self.good * minor_unit) * minor_unit


# The step from one such price to the next, and what stands behind the last whole step.
_STEPS = {
    Ending.WHOLE: (WHOLE_UNIT, 0),
    Ending.FIVES: (5 * WHOLE_UNIT, 0),
    Ending.HALF: (WHOLE_UNIT, 500_000),
    Ending.NINETY_FIVE: (WHOLE_UNIT, 950_000),
    Ending.NINETY_NINE: (WHOLE_UNIT, 990_000),
}


@dataclass(frozen=True, slots=True)
class Rules:
    """The studio's own figures: mark-up, margin and the retail factor as millionths, the rest in money.

    `per_area` is for 100 cm², `per_side` for each centimetre of height and width together. `failures` is the rate that
    ways to a price allow for; None where they allow for none.
    """

    markup: int = 300_000
    margin: int = 400_000
    wage: int = 15_000_000
    per_area: int = 8_000_000
    per_side: int = 1_000_000
    retail_factor: int = 2_000_000
    ending: Ending = Ending.WHOLE
    failures: FailureRate | None = None

    def allowance(self, cost: int, *, minor_unit: int) -> int:
        """Return what a price that covers a cost allows for failed pours on top."""
        return self.failures.allowance(cost, minor_unit=minor_unit) if self.failures else 0


class Subject(NamedTuple):
    """What a price is for: its cost and the materials in it, seconds of work, its area, its height and width.

    What no cost sheet has yet: the packing to come, and an allowance for pours that fail.
    """

    cost: int
    materials: int
    seconds: int
    area: int
    sides: int
    packing: int = 0
    failures: int = 0

    @property
    def start(self) -> int:
        """What a price by cost starts from."""
        return self.cost + self.packing + self.failures


class Suggestion(NamedTuple):
    """One way to a price: what should be left of it after tax and fees, or what is asked whatever they are."""

    method: Method
    left: int | None
    asked: int | None


def from_margin(cost: int, margin: int) -> int:
    """Return cost ÷ (1 − margin): what must be left so that the profit is that share of it.

    Raises CostingError for a margin of everything or more.
    """
    if not 0 <= margin < MILLION:
        raise CostingError(_("A margin is from 0% to below 100%."))
    return divide_half_up(cost * MILLION, MILLION - margin)


def suggestions(subject: Subject, rules: Rules) -> list[Suggestion]:
    """Return every way's price, in the order of Method. The retail price is the mark-up's, times the factor."""
    by_hours = divide_half_up(rules.wage * subject.seconds, SECONDS_IN_AN_HOUR)
    trade = price_from_markup(subject.start, rules.markup)
    return [
        Suggestion(Method.MARKUP, trade, None),
        Suggestion(Method.MARGIN, from_margin(subject.start, rules.margin), None),
        Suggestion(Method.WAGE, subject.materials + subject.packing + subject.failures + by_hours, None),
        Suggestion(Method.AREA, None, divide_half_up(rules.per_area * subject.area, 100 * THOUSANDTHS)),
        Suggestion(Method.SIDES, None, divide_half_up(rules.per_side * subject.sides, THOUSANDTHS)),
        Suggestion(Method.RETAIL, None, divide_half_up(trade * rules.retail_factor, MILLION)),
    ]


def step_of(ending: Ending, *, minor_unit: int) -> tuple[int, int]:
    """Return the step between prices that end so, and what stands behind the last whole step.

    A currency whose minor unit does not allow the ending has whole units instead.
    """
    step, tail = _STEPS.get(ending, (minor_unit, 0))
    return (step, 0) if tail % minor_unit else (step, tail)


def floor_of(cost: int, channel: Channel, *, minor_unit: int, ending: Ending = Ending.EXACT) -> int:
    """Return the least price with this ending that leaves the cost after every fee is rounded as it is taken."""
    step, tail = step_of(ending, minor_unit=minor_unit)
    return least_price(cost, channel, minor_unit=minor_unit, step=step, tail=tail)


def price_of(suggestion: Suggestion, cost: int, channel: Channel, *, minor_unit: int, ending: Ending) -> int:
    """Return the suggested price on a channel, ending as wished, and never below what covers the cost there."""
    floor = floor_of(max(cost, suggestion.left or 0), channel, minor_unit=minor_unit, ending=ending)
    return max(floor, first_price(suggestion.asked or 0, *step_of(ending, minor_unit=minor_unit)))


def changed_by(price: int, change: int, ending: Ending, *, minor_unit: int) -> int:
    """Return a price raised or lowered by a share of it (in millionths), ending as wished, rounded up."""
    changed = divide_half_up(price * (MILLION + change), MILLION)
    return first_price(changed, *step_of(ending, minor_unit=minor_unit))
