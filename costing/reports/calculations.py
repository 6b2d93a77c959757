"""Stock and profit of a period, and what is lost when stock will not bring its cost. Pure: no database in sight.

Money is millionths of the currency unit. Not tax or legal advice: an accountant decides what an authority asks for.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum


class Stage(StrEnum):
    """How far what is owned has come, from the bottle to the gallery."""

    RAW = "raw"
    MIXED = "mixed"
    WORK = "work"
    FINISHED = "finished"
    CONSIGNED = "consigned"


class Way(StrEnum):
    """For what something left stock and work other than by a sale."""

    ABNORMAL = "loss"
    NORMAL = "normal"
    SAMPLE = "sample"
    COUNT = "count"
    GIFT = "gift"
    OWN_USE = "own_use"


# Taken out by its owner: not a cost of the business. Whether a gift is one, her accountant says.
TAKEN_OUT = (Way.GIFT, Way.OWN_USE)


@dataclass(frozen=True, slots=True)
class Loss:
    """What left for one reason."""

    reason: int
    name: str
    way: Way
    money: int


@dataclass(frozen=True, slots=True)
class StockAccount:
    """The material cost of everything owned, from the opening of a period to its close.

    What was there and came in is what was sold, lost and is there still (OpenStax, Principles of Accounting, volume 1,
    chapter 10: cost of goods available for sale).
    """

    opening: Mapping[Stage, int]
    closing: Mapping[Stage, int]
    purchases: int
    found: int
    cost_of_sales: int
    brought_in: int = 0
    losses: Sequence[Loss] = ()

    @property
    def opened_with(self) -> int:
        return sum(self.opening.values())

    @property
    def closed_with(self) -> int:
        return sum(self.closing.values())

    @property
    def available(self) -> int:
        return self.opened_with + self.brought_in + self.purchases + self.found

    @property
    def lost(self) -> int:
        return sum(loss.money for loss in self.losses)

    @property
    def adds_up(self) -> bool:
        return self.available == self.cost_of_sales + self.lost + self.closed_with

    def lost_by(self, *ways: Way) -> int:
        """What left for reasons of these kinds."""
        return sum(loss.money for loss in self.losses if loss.way in ways)


@dataclass(frozen=True, slots=True)
class ChannelSales:
    """What one sales channel brought in a period: paid by buyers, given back, and what it took."""

    channel: int
    name: str
    paid: int = 0
    refunds: int = 0
    tax: int = 0
    fees: int = 0
    postage_paid: int = 0
    monthly_fees: int = 0

    @property
    def takings(self) -> int:
        return self.paid - self.refunds

    @property
    def net_sales(self) -> int:
        """What was earned by selling, without tax."""
        return self.takings - self.tax

    @property
    def selling_costs(self) -> int:
        return self.fees + self.postage_paid + self.monthly_fees

    @property
    def net_proceeds(self) -> int:
        return self.net_sales - self.selling_costs


@dataclass(frozen=True, slots=True)
class ProfitAccount:
    """Sales less what they cost, in the order of an income statement (the same book, chapter 6).

    `write_downs` is by how much the amounts written down grew. Work of the owner's own is no cost here.
    """

    channels: Sequence[ChannelSales]
    stock: StockAccount
    write_downs: int = 0
    market_costs: int = 0
    overhead: int | None = None  # None: not entered for this period
    deposits_kept: int = 0

    @property
    def takings(self) -> int:
        return sum(each.takings for each in self.channels)

    @property
    def net_sales(self) -> int:
        return sum(each.net_sales for each in self.channels)

    @property
    def gross_profit(self) -> int:
        return self.net_sales - self.stock.cost_of_sales

    @property
    def selling_costs(self) -> int:
        return sum(each.selling_costs for each in self.channels)

    @property
    def losses(self) -> int:
        """What was lost, less what counts found: all but what the owner took out."""
        return self.stock.lost - self.stock.lost_by(*TAKEN_OUT) - self.stock.found

    @property
    def expenses(self) -> int:
        return self.selling_costs + self.market_costs + (self.overhead or 0) + self.losses + self.write_downs

    @property
    def net_profit(self) -> int:
        return self.gross_profit + self.deposits_kept - self.expenses


@dataclass(frozen=True, slots=True)
class CashAccount:
    """What came in and went out in a period, whatever it was for. Purchases count on the day of their delivery."""

    received: int
    refunded: int
    selling_costs: int
    purchases: int
    market_costs: int
    overhead: int | None

    @classmethod
    def of(cls, profit: ProfitAccount, ahead: int) -> "CashAccount":
        """`ahead` is what came in for pieces not sold yet, less what sales set off of it."""
        return cls(
            received=sum(each.paid for each in profit.channels) + ahead,
            refunded=sum(each.refunds for each in profit.channels),
            selling_costs=profit.selling_costs,
            purchases=profit.stock.purchases,
            market_costs=profit.market_costs,
            overhead=profit.overhead,
        )

    @property
    def paid(self) -> int:
        return self.refunded + self.selling_costs + self.purchases + self.market_costs + (self.overhead or 0)

    @property
    def difference(self) -> int:
        return self.received - self.paid


def realisable(price: int, *, selling: int = 0, to_finish: int = 0) -> int:
    """Net realisable value: the expected price less what finishing and selling will cost (IAS 2, paragraph 6)."""
    return max(price - selling - to_finish, 0)


def write_down(cost: int, value: int) -> int:
    """By how much an item stands above what it will bring: lower of cost and net realisable value, item by item.

    Worked out anew at every date, it grows, shrinks and ends by itself, and never raises an item above its cost (IAS 2,
    paragraphs 28 to 33).
    """
    return max(cost - value, 0)
