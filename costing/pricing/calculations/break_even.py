"""How many must be sold, or for how much, before fixed costs are covered. Money and rates in millionths."""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import ceil

from costing.errors import CostingError
from studio.translation import _
from studio.values.allocation import divide_half_up

MILLION = 1_000_000


class BreakEvenError(CostingError):
    """Raised when the figures for a break-even cannot be right: a negative cost, or nothing in the mix."""


class NeverBreaksEvenError(BreakEvenError):
    """Raised when each sale brings no more than it costs, so no number of sales covers the fixed costs."""

    def __init__(self) -> None:
        super().__init__(_("Each sale brings in no more than it costs. Raise the price or reduce the cost."))


@dataclass(frozen=True, slots=True)
class Product:
    """One product of a sales mix: how many sell together with the others, its price and its own cost."""

    units_in_mix: int
    price: int
    variable_cost: int

    def __post_init__(self) -> None:
        if self.units_in_mix <= 0:
            raise BreakEvenError(
                _("A product in the mix sells at least one at a time. Leave out what is not sold.")
            )

    @property
    def contribution(self) -> int:
        """What one round of the mix brings from this product towards fixed costs."""
        return self.units_in_mix * unit_contribution(self.price, self.variable_cost)


@dataclass(frozen=True, slots=True)
class MixBreakEven:
    """Rounds of the mix to sell, the units of each product that makes, and what they sell for."""

    rounds: int
    units: tuple[int, ...]
    sales: int


def unit_contribution(price: int, variable_cost: int) -> int:
    """Return what one sale leaves towards fixed costs and profit: price − variable cost."""
    return price - variable_cost


def contribution_ratio(price: int, variable_cost: int) -> int:
    """Return the contribution as a share of the price."""
    if price <= 0:
        raise BreakEvenError(_("Enter a price above zero."))
    return divide_half_up(unit_contribution(price, variable_cost) * MILLION, price)


def income(units: int, price: int, variable_cost: int, fixed_costs: int) -> int:
    """Return the profit, or the loss below zero, on selling so many."""
    return units * unit_contribution(price, variable_cost) - fixed_costs


def break_even_units(fixed_costs: int, price: int, variable_cost: int, target_profit: int = 0) -> int:
    """Return the least whole number to sell that covers fixed costs and a target profit.

    Units = (fixed + target) ÷ (price − variable cost). Raises NeverBreaksEvenError.
    """
    to_cover = _to_cover(fixed_costs, target_profit)
    contribution = unit_contribution(price, variable_cost)
    if to_cover and contribution <= 0:
        raise NeverBreaksEvenError
    return ceil(Fraction(to_cover, contribution)) if to_cover else 0


def break_even_revenue(fixed_costs: int, price: int, variable_cost: int, target_profit: int = 0) -> int:
    """Return the revenue that cover fixed costs and a target profit, rounded up to a millionth.

    Revenue = (fixed + target) ÷ contribution ratio, the ratio kept exact; for revenue that need not be a
    whole number of units. Raises NeverBreaksEvenError.
    """
    to_cover = _to_cover(fixed_costs, target_profit)
    contribution = unit_contribution(price, variable_cost)
    if to_cover and contribution <= 0:
        raise NeverBreaksEvenError
    return ceil(Fraction(to_cover * price, contribution)) if to_cover else 0


def profit_before_tax(profit_after_tax: int, tax_rate: int) -> int:
    """Return the profit that leaves so much after tax, rounded up: after ÷ (1 − rate)."""
    if not 0 <= tax_rate < MILLION:
        raise BreakEvenError(_("A tax rate must be from 0 to just under 100%."))
    return ceil(Fraction(profit_after_tax * MILLION, MILLION - tax_rate))


def break_even_mix(fixed_costs: int, products: Sequence[Product], target_profit: int = 0) -> MixBreakEven:
    """Return how often a fixed mix of products must sell to cover fixed costs and a target profit.

    Raises BreakEvenError for an empty mix and NeverBreaksEvenError when a round of it brings nothing.
    """
    if not products:
        raise BreakEvenError(_("Name at least one product of the mix."))
    brought = sum(product.contribution for product in products)
    # A round of the mix is sold like one unit that costs nothing and is priced at what it brings.
    rounds = break_even_units(fixed_costs, brought, 0, target_profit)
    units = tuple(rounds * product.units_in_mix for product in products)
    sales = sum(count * product.price for count, product in zip(units, products, strict=True))
    return MixBreakEven(rounds, units, sales)


def _to_cover(fixed_costs: int, target_profit: int) -> int:
    if fixed_costs < 0:
        raise BreakEvenError(_("Fixed costs cannot be below zero."))
    return max(fixed_costs + target_profit, 0)
