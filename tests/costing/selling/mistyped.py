"""A sale as it was recorded wrongly, and what is corrected in it."""

from collections.abc import Sequence
from datetime import date
from typing import Any

from costing.pieces.calculations import State
from costing.selling.actions import PieceSold, SaleCorrection, SaleFacts, correct_sale, sell_together
from costing.selling.models import Sale
from costing.selling.queries import SaleFigures, SalesTotal, sale_figures, total_of_sales, with_lines
from tests.costing.stories import LATER, a_piece, make_channel, use_rates
from tests.making import make_submission, money


def sold(*prices: str, on: date = LATER, titles: Sequence[str] = ("Ebb", "Flood"), **facts: Any) -> Sale:
    """Pieces that cost 5.50 each, sold by card at 2% with a commission of 10%; 20% tax inside the prices."""
    use_rates(wage="0", overhead="0", tax_rate=200_000)
    lines = [
        PieceSold(a_piece(title=title, state=State.FOR_SALE), money(price))
        for title, price in zip(titles, prices or ("24.00",), strict=False)
    ]
    return sell_together(
        lines=lines,
        channel=make_channel(card_rate=20_000, commission=100_000),
        facts=SaleFacts(**facts),
        submission=make_submission(on=on),
    )


def corrected(sale: Sale, *prices: str, key: str = "", **figures: Any) -> Sale:
    """The sale in its place; prices are of its pieces, in their order."""
    lines = sale.lines.order_by("pk")
    by_line = {line.pk: {"price": money(price)} for line, price in zip(lines, prices, strict=False)}
    facts = SaleCorrection(figures, by_line, "Digits swapped")
    return correct_sale(sale=sale, facts=facts, submission=make_submission(key=key))


def figures_of(sale: Sale) -> SaleFigures:
    return sale_figures(with_lines(Sale.objects.filter(pk=sale.pk)), "GBP")[0]


def all_sales() -> SalesTotal:
    return total_of_sales(sale_figures(with_lines(Sale.objects.all()), "GBP"))
