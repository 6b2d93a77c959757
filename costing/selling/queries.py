"""What sales brought: the prices, what tax and the sales channel took, what the pieces cost, and what is left.

Money is millionths of the currency unit. Each piece's cost is rounded to the minor unit as on its own cost sheet, and
the totals are the sums of the lines, so that what is printed adds up.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from itertools import chain

from django.db.models import Prefetch, QuerySet, Sum

from costing.cost_sheets.lines import CostSummary
from costing.cost_sheets.queries import cost_summaries
from costing.pieces.models import Piece, PiecePour
from costing.pricing.models import SalesChannel
from costing.selling.models import Refund, Sale, SaleLine
from studio.translation import _
from studio.values.money import round_to_minor


@dataclass(frozen=True, slots=True)
class Refunded:
    """What was refunded of a line, what of it was tax, and what the sales channel gave back."""

    amount: int
    tax: int
    fees: int


@dataclass(frozen=True, slots=True)
class SoldPiece:
    """One line of a sale, what was refunded of it, and the cost of its piece: none once the piece came back.

    `seconds` were worked on the piece; `labour` is what they are in its cost.
    """

    line: SaleLine
    refunded: Refunded
    cost: int
    seconds: int = 0
    labour: int = 0

    @property
    def sale(self) -> Sale:
        return self.line.sale

    @property
    def piece(self) -> Piece:
        return self.line.piece

    @property
    def is_corrected(self) -> bool:
        """Whether another sale stands in place of its own, which was recorded wrongly."""
        return getattr(self.sale, "corrected_by", None) is not None

    @property
    def tax(self) -> int:
        return self.line.tax - self.refunded.tax

    @property
    def fees(self) -> int:
        """What the sales channel kept."""
        return self.line.fees - self.refunded.fees

    @property
    def postage(self) -> int:
        """Postage charged less postage paid."""
        return self.line.postage - self.line.postage_paid

    @property
    def net_proceeds(self) -> int:
        return self.line.net_proceeds - self.refunded.amount + self.refunded.tax + self.refunded.fees

    @property
    def profit(self) -> int:
        return self.net_proceeds - self.cost

    @property
    def steps(self) -> list[tuple[str, int]]:
        """What comes on top of the price and off it on the way to the net proceeds, each with its label."""
        amounts = {
            _("plus postage charged"): self.line.postage,
            _("less postage paid"): self.line.postage_paid,
            _("less refunds"): self.refunded.amount,
            _("less tax included in the price"): self.tax,
            _("less commission"): self.line.commission,
            _("less card fee"): self.line.card_fee,
            _("less fixed fee"): self.line.fixed_fee,
            _("plus fees given back"): self.refunded.fees,
        }
        return [(label, amount) for label, amount in amounts.items() if amount]


@dataclass(frozen=True, slots=True)
class SalesTotal:
    """Lines of sales together. `count` is of pieces that stayed sold; what was refunded is taken off below.

    `seconds` were worked on those pieces and are `labour` in their cost; `untimed` of them have no time recorded.
    """

    count: int
    prices: int
    postage: int
    postage_paid: int
    refunds: int
    tax: int
    fees: int
    net_proceeds: int
    cost: int
    seconds: int
    labour: int
    untimed: int
    monthly_fees: int = 0  # of sales channels, taken off the net proceeds where a period is looked at

    @property
    def profit(self) -> int:
        return self.net_proceeds - self.cost

    @property
    def paid(self) -> int:
        """What buyers paid, postage included, and did not get back."""
        return self.prices + self.postage - self.refunds

    @property
    def selling_costs(self) -> int:
        """What the sales channels kept, and the postage paid."""
        return self.fees + self.postage_paid

    @property
    def by_column(self) -> dict[str, int]:
        """The figures by the keys of the columns that they close."""
        return {
            "price": self.paid,
            "tax": self.tax,
            "fees": self.selling_costs,
            "proceeds": self.net_proceeds,
            "cost": self.cost,
            "profit": self.profit,
        }


@dataclass(frozen=True, slots=True)
class SaleFigures:
    """One sale with its lines."""

    sale: Sale
    lines: tuple[SoldPiece, ...]

    @property
    def total(self) -> SalesTotal:
        return total_of(self.lines)

    @property
    def titles(self) -> str:
        return ", ".join(each.piece.title for each in self.lines)

    @property
    def steps(self) -> list[tuple[str, int]]:
        """Those of its lines, each label once."""
        sums: dict[str, int] = {}
        for label, amount in chain.from_iterable(each.steps for each in self.lines):
            sums[label] = sums.get(label, 0) + amount
        return list(sums.items())

    @property
    def full_prices(self) -> int:
        """The prices before any discount."""
        return sum(each.line.full_price for each in self.lines)

    @property
    def discount(self) -> int:
        return sum(each.line.discount for each in self.lines)

    @property
    def postage_charged(self) -> int:
        return sum(each.line.postage for each in self.lines)

    @property
    def tax_charged(self) -> int:
        """The tax that was in what the buyer paid, before any refund."""
        return sum(each.line.tax for each in self.lines)

    @property
    def refunds(self) -> list[tuple[SoldPiece, Refund]]:
        """What was given back, each time with the piece that it was given back for."""
        return [(each, refund) for each in self.lines for refund in each.line.refunds.all()]

    @property
    def charged(self) -> int:
        """What the buyer paid in all, before any refund."""
        return sum(each.line.paid for each in self.lines)

    @property
    def balance(self) -> int:
        """What the buyer paid at the sale, after what was paid before."""
        return self.charged - self.sale.paid_before

    @property
    def corrected_by(self) -> Sale | None:
        """The sale that stands in its place, where it was recorded wrongly."""
        return getattr(self.sale, "corrected_by", None)

    @property
    def kept(self) -> list[SoldPiece]:
        """The lines whose pieces did not come back."""
        return [each for each in self.lines if each.line.returned_on is None]

    @property
    def returned(self) -> int:
        """How many of its pieces came back."""
        return sum(each.line.returned_on is not None for each in self.lines)


def paid_by(channel: SalesChannel) -> str:
    """How buyers pay there, in words for a buyer: to a gallery by its name."""
    return channel.name if channel.is_gallery else channel.get_payment_display()


def with_lines(sales: QuerySet[Sale]) -> QuerySet[Sale]:
    """Read the channel and the lines of sales along with them, and the pieces, pours and refunds of the lines."""
    parts = PiecePour.objects.select_related("pour__surface", "pour__technique").order_by("pour_id")
    lines = (
        SaleLine.objects.select_related("piece", "posting")
        .prefetch_related("refunds", Prefetch("piece__parts", queryset=parts))
        .order_by("pk")
    )
    return sales.select_related("channel", "corrected_by").prefetch_related(Prefetch("lines", queryset=lines))


def sale_figures(sales: Iterable[Sale], currency: str) -> list[SaleFigures]:
    """Each sale with its figures, in the same few queries however many there are. Read them `with_lines`."""
    sales = list(sales)
    pieces = {line.piece_id: line.piece for sale in sales for line in sale.lines.all()}
    costs = cost_summaries(pieces.values())
    return [
        SaleFigures(
            sale, tuple(_with_time(line, costs[line.piece_id], currency) for line in sale.lines.all())
        )
        for sale in sales
    ]


def total_of(lines: Iterable[SoldPiece]) -> SalesTotal:
    """Add lines up. A piece that came back costs nothing: its cost is in work again."""
    lines = list(lines)
    return SalesTotal(
        count=sum(each.line.returned_on is None for each in lines),
        prices=sum(each.line.price for each in lines),
        postage=sum(each.line.postage for each in lines),
        postage_paid=sum(each.line.postage_paid for each in lines),
        refunds=sum(each.refunded.amount for each in lines),
        tax=sum(each.tax for each in lines),
        fees=sum(each.fees for each in lines),
        net_proceeds=sum(each.net_proceeds for each in lines),
        cost=sum(each.cost for each in lines),
        seconds=sum(each.seconds for each in lines),
        labour=sum(each.labour for each in lines),
        untimed=sum(each.line.returned_on is None and not each.seconds for each in lines),
    )


def below_cost(sale: Sale, currency: str) -> list[SoldPiece]:
    """The pieces that brought less than they cost."""
    [figures] = sale_figures(with_lines(Sale.objects.filter(pk=sale.pk)), currency)
    return [each for each in figures.lines if each.profit < 0]


def total_of_sales(figures: Iterable[SaleFigures]) -> SalesTotal:
    return total_of(line for each in figures for line in each.lines)


def standing_line(piece: Piece) -> SaleLine | None:
    """The line of the sale of a piece that was not returned."""
    lines = piece.sale_lines.select_related("sale__channel", "posting").prefetch_related("refunds")
    return lines.filter(returned_on__isnull=True).first()


def standing_sale(piece: Piece, cost: int) -> SoldPiece | None:
    """The same beside what the piece cost."""
    line = standing_line(piece)
    return _sold(line, cost) if line else None


def refunded_so_far(line: SaleLine) -> Refunded:
    """What was refunded of a line until now."""
    sums = Refund.objects.filter(line=line).aggregate(amount=Sum("amount"), tax=Sum("tax"), fees=Sum("fees"))
    return Refunded(sums["amount"] or 0, sums["tax"] or 0, sums["fees"] or 0)


def _with_time(line: SaleLine, summary: CostSummary, currency: str) -> SoldPiece:
    sold = _sold(line, round_to_minor(summary.whole, currency))
    return sold if line.returned_on else replace(sold, seconds=summary.seconds, labour=summary.labour)


def _sold(line: SaleLine, cost: int) -> SoldPiece:
    refunds = list(line.refunds.all())
    refunded = Refunded(
        sum(each.amount for each in refunds),
        sum(each.tax for each in refunds),
        sum(each.fees for each in refunds),
    )
    return SoldPiece(line, refunded, 0 if line.returned_on else cost)
