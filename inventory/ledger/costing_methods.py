"""Which lot paint is drawn from, and what it costs: quantities in thousandths, money in millionths."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date

from inventory.errors import InventoryError
from studio.translation import _
from studio.values.allocation import divide_half_up
from studio.values.numbers import format_scaled


class CostFlowError(InventoryError):
    """Raised when a holding or a draw makes no sense: a negative amount, or cost with no paint behind it."""


class LotNotHeldError(CostFlowError):
    """Raised when the lot chosen to draw from is not among those on the shelf."""

    def __init__(self, lot: int) -> None:
        super().__init__(_("The chosen lot is empty. Choose another, or leave the choice open."))
        self.lot = lot


class Shortfall(CostFlowError):
    """Raised when more is needed than the lots hold; nothing has been drawn."""

    def __init__(self, needed: int, held: int) -> None:
        super().__init__(
            _(
                "{needed} is needed but only {held} is in stock: {short} short. Use less, record a "
                "delivery, or do a stocktake.",
                needed=format_scaled(needed, 3),
                held=format_scaled(held, 3),
                short=format_scaled(needed - held, 3),
            )
        )
        self.needed = needed
        self.held = held

    @property
    def short(self) -> int:
        """What is missing, in thousandths."""
        return self.needed - self.held


@dataclass(frozen=True, slots=True)
class Holding:
    """What one lot holds now (thousandths, millionths) and the dates that decide its turn.

    `arrived_later` is the part of it that was not there yet at the end of the day in question.
    """

    lot: int
    quantity: int
    money: int
    best_before: date | None
    received_on: date
    arrived_later: int = 0

    @property
    def available(self) -> int:
        return max(self.quantity - self.arrived_later, 0)

    def __post_init__(self) -> None:
        if self.quantity < 0 or self.money < 0:
            raise CostFlowError(_("A lot cannot be below zero. Reverse the posting that overdrew it."))
        if self.quantity == 0 and self.money:
            raise CostFlowError(_("An empty lot still has a cost. Reverse the posting that left it there."))


@dataclass(frozen=True, slots=True)
class Take:
    """What one draw takes from one lot: quantity in thousandths and the money that leaves with it."""

    lot: int
    quantity: int
    money: int


def is_possible(quantity: int, money: int) -> bool:
    """Whether a lot can hold so much at such a cost: nothing below zero, and no cost without quantity."""
    return quantity >= 0 and money >= 0 and (quantity > 0 or not money)


def draw_order(
    holdings: Iterable[Holding], *, chosen: int | None = None, by_expiry: bool = False
) -> list[Holding]:
    """Order lots for drawing: the chosen one, then the oldest receipt; or `by_expiry` the earliest best-before first.

    Raises LotNotHeldError when the chosen lot is not among the holdings.
    """
    lots = list(holdings)
    if chosen is not None and all(holding.lot != chosen for holding in lots):
        raise LotNotHeldError(chosen)
    return sorted(
        lots,
        key=lambda holding: (
            holding.lot != chosen,
            (by_expiry and holding.best_before) or date.max,
            holding.received_on,
            holding.lot,
        ),
    )


def cost_of_draw(quantity: int, money: int, taken: int) -> int:
    """Return the money that leaves with `taken`, rounded half up; the last draw takes the rest.

    Raises CostFlowError when taken is negative or more than the quantity held.
    """
    if not 0 <= taken <= quantity:
        raise CostFlowError(_("You can take from zero up to what the lot holds. Check the quantity."))
    if taken == quantity:
        return money
    return divide_half_up(money * taken, quantity)


def draw(
    holdings: Iterable[Holding], needed: int, *, chosen: int | None = None, by_expiry: bool = False
) -> list[Take]:
    """Take `needed` from the lots in drawing order, leaving out lots that give nothing.

    Raises Shortfall when the lots together hold less, CostFlowError for a negative need, and
    LotNotHeldError for a chosen lot that is not there.
    """
    if needed < 0:
        raise CostFlowError(
            _("The quantity taken cannot be negative. To put paint back, reverse the posting that took it.")
        )
    lots = draw_order(holdings, chosen=chosen, by_expiry=by_expiry)
    held = sum(holding.available for holding in lots)
    if held < needed:
        raise Shortfall(needed, held)
    takes = []
    for holding in lots:
        taken = min(holding.available, needed)
        if taken:
            takes.append(Take(holding.lot, taken, cost_of_draw(holding.quantity, holding.money, taken)))
            needed -= taken
    return takes


def transfers(changes: Mapping[int, int]) -> list[tuple[int, int, int]]:
    """Turn changes that sum to zero into (source, destination, money), at most one fewer than there are lots."""
    sources = [[lot, -change] for lot, change in changes.items() if change < 0]
    destinations = [[lot, change] for lot, change in changes.items() if change > 0]
    moved = []
    while sources and destinations:
        money = min(sources[0][1], destinations[0][1])
        moved.append((sources[0][0], destinations[0][0], money))
        for side in (sources, destinations):
            side[0][1] -= money
            if side[0][1] == 0:
                side.pop(0)
    return moved
