"""What sales brought: the price, what tax and the sales channel took, what the piece cost, and what is left.

Money is millionths of the currency unit. Each piece's cost is rounded to the minor unit as on its own cost sheet, and
the totals are the sums of the lines, so that what is printed adds up.
"""

from collections.abc import Iterable
from dataclasses import dataclass

from costing.cost_sheets.queries import cost_summaries
from costing.pieces.models import Piece
from costing.selling.models import Sale
from studio.translation import _
from studio.values.money import round_to_minor


@dataclass(frozen=True, slots=True)
class SaleLine:
    """One sale with the cost of its piece, materials and work."""

    sale: Sale
    cost: int

    @property
    def fees(self) -> int:
        return self.sale.commission + self.sale.card_fee + self.sale.fixed_fee

    @property
    def profit(self) -> int:
        return self.sale.net_proceeds - self.cost

    @property
    def deductions(self) -> list[tuple[str, int]]:
        """What came off the price on the way to the net proceeds, each with its label."""
        amounts = {
            _("less tax included in the price"): self.sale.tax,
            _("less commission"): self.sale.commission,
            _("less card fee"): self.sale.card_fee,
            _("less fixed fee"): self.sale.fixed_fee,
        }
        return [(label, amount) for label, amount in amounts.items() if amount]


@dataclass(frozen=True, slots=True)
class SalesTotal:
    """Sales together. `net_proceeds` is what is left of the prices after tax and fees, `profit` after cost too."""

    count: int
    prices: int
    tax: int
    fees: int
    net_proceeds: int
    cost: int

    @property
    def profit(self) -> int:
        return self.net_proceeds - self.cost

    @property
    def by_column(self) -> dict[str, int]:
        """The figures by the keys of the columns that they close."""
        return {
            "price": self.prices,
            "tax": self.tax,
            "fees": self.fees,
            "proceeds": self.net_proceeds,
            "cost": self.cost,
            "profit": self.profit,
        }


def sale_lines(sales: Iterable[Sale], currency: str) -> list[SaleLine]:
    """Each sale with its cost, in the same few queries however many there are. Reads `sale.piece` (select it)."""
    sales = list(sales)
    costs = cost_summaries({sale.piece_id: sale.piece for sale in sales}.values())
    return [SaleLine(sale, round_to_minor(costs[sale.piece_id].whole, currency)) for sale in sales]


def total_of(lines: Iterable[SaleLine]) -> SalesTotal:
    """Add sales up. One that came back brought nothing and is left out."""
    kept = [line for line in lines if line.sale.returned_on is None]
    return SalesTotal(
        count=len(kept),
        prices=sum(line.sale.price for line in kept),
        tax=sum(line.sale.tax for line in kept),
        fees=sum(line.fees for line in kept),
        net_proceeds=sum(line.sale.net_proceeds for line in kept),
        cost=sum(line.cost for line in kept),
    )


def standing_sale(piece: Piece, cost: int) -> SaleLine | None:
    """The sale of a piece that was not returned, beside what the piece cost."""
    sales = piece.sales.select_related("channel", "posting")
    sale = sales.filter(returned_on__isnull=True).first()
    return SaleLine(sale, cost) if sale else None
