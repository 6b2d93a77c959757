"""What sales brought: the price, what tax and the route took, what the piece cost, and what is left.

Money is millionths of the currency unit. Each piece's cost is rounded to the minor unit as on its own cost sheet, and
the totals are the sums of the lines, so that what is printed adds up.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date

from costing.cost_sheets.lines import CostSheet, SoldFor
from costing.cost_sheets.queries import cost_sheet, cost_summaries
from costing.pieces.models import Piece
from costing.selling.models import Sale
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


@dataclass(frozen=True, slots=True)
class Takings:
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


def sale_lines(sales: Iterable[Sale], currency: str) -> list[SaleLine]:
    """Each sale with its cost, in the same few queries however many there are. Reads `sale.piece` (select it)."""
    sales = list(sales)
    costs = cost_summaries({sale.piece_id: sale.piece for sale in sales}.values())
    return [SaleLine(sale, round_to_minor(costs[sale.piece_id].whole, currency)) for sale in sales]


def together(lines: Iterable[SaleLine]) -> Takings:
    """Add sales up. One that came back brought nothing and is left out."""
    kept = [line for line in lines if line.sale.returned_on is None]
    return Takings(
        count=len(kept),
        prices=sum(line.sale.price for line in kept),
        tax=sum(line.sale.tax for line in kept),
        fees=sum(line.fees for line in kept),
        net_proceeds=sum(line.sale.net_proceeds for line in kept),
        cost=sum(line.cost for line in kept),
    )


def cost_sheet_with_sale(piece: Piece, *, on: date | None = None) -> CostSheet:
    """A piece's cost sheet, and what the sale that stands brought; now, or as it stood at the end of a day."""
    sheet = cost_sheet(piece, on=on)
    return replace(sheet, sale=_sold_for(piece, sheet.summary.whole, on))


def _sold_for(piece: Piece, cost: int, on: date | None) -> SoldFor | None:
    sales = Sale.objects.filter(piece=piece).select_related("channel")
    if on is None:
        sales = sales.filter(returned_on__isnull=True)
    else:
        sales = sales.filter(sold_on__lte=on).exclude(returned_on__lte=on)
    sale = sales.order_by("-pk").first()
    if sale is None:
        return None
    return SoldFor(
        sale.pk,
        sale.channel.name,
        sale.sold_on,
        sale.price,
        sale.tax,
        sale.commission,
        sale.card_fee,
        sale.fixed_fee,
        sale.net_proceeds,
        sale.net_proceeds - cost,
    )
