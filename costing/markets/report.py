"""What a market day came to, written out for paper: takings, whether it paid, the pieces, the cash in the till."""

from collections.abc import Sequence

from costing.markets.models import CashCount
from costing.markets.queries import MarketRow, PackedRow
from inventory.comparisons.papers import Section
from studio.preferences.formatting import Formatter
from studio.translation import _, ngettext, pgettext

TWO_COLUMNS = (0.7, 0.3)
SOLD_COLUMNS = (0.5, 0.3, 0.2)


def report_of(
    row: MarketRow, packed: Sequence[PackedRow], count: CashCount | None, formatter: Formatter
) -> list[Section]:
    """The sections of the report. `count` is the cash count in force, if there is one."""
    pieces = Section(
        _("Pieces"), _pieces(row, packed), _sold(row, formatter), widths=SOLD_COLUMNS, has_amounts=True
    )
    return [
        _account(_("Takings"), _takings(row, formatter), _("Takings")),
        _account(_("Did it pay?"), _profit(row, formatter), _("Contribution"), _end(row)),
        _account(_("Cash in the till"), _till(row, count, formatter), _("Expected"), _("Difference")),
        pieces,
    ]


def _account(heading: str, lines: Sequence[tuple[str, str]], *sums: str) -> Section:
    return Section(heading, table=lines, widths=TWO_COLUMNS, has_amounts=True, sums=sums)


def _end(row: MarketRow) -> str:
    return _("Loss") if row.result.profit < 0 else _("Profit")


def _takings(row: MarketRow, formatter: Formatter) -> list[tuple[str, str]]:
    result, money = row.result, formatter.money
    ahead = [(_("Of it paid for commissions not sold yet"), money(result.ahead))] if result.ahead > 0 else []
    return [
        (_("How it was paid"), pgettext("money", "Amount")),
        (_("In cash"), money(result.cash)),
        (_("By card"), money(result.card)),
        (_("Takings"), money(result.takings)),
        *ahead,
    ]


def _profit(row: MarketRow, formatter: Formatter) -> list[tuple[str, str]]:
    result, money = row.result, formatter.money
    earlier = (
        [(_("of it paid earlier for commissions"), money(result.paid_earlier))] if result.paid_earlier else []
    )
    hourly = (
        []
        if result.per_hour is None
        else [(_("Earned per hour of work, before the wage"), money(result.per_hour))]
    )
    return [
        (_("Result"), pgettext("money", "Amount")),
        (_("Sales"), money(result.sales)),
        *earlier,
        (_("less tax included"), money(result.tax)),
        (_("less card fees and other fees"), money(result.fees)),
        (_("less cost of the pieces sold"), money(result.cost)),
        (_("Contribution"), money(result.contribution)),
        (_("less pitch fee"), money(result.pitch)),
        (_("less travel"), money(result.travel)),
        (_("less wages"), money(result.wages)),
        (_end(row), money(result.profit)),
        *hourly,
    ]


def _till(row: MarketRow, count: CashCount | None, formatter: Formatter) -> list[tuple[str, str]]:
    money, till_float = formatter.money, row.market.till_float
    paid_out = count.paid_out if count else 0
    expected = till_float + row.cash_taken - paid_out
    lines = [
        (_("Cash"), pgettext("money", "Amount")),
        (_("Float"), money(till_float)),
        (_("Cash taken"), money(row.cash_taken)),
        (_("less paid out"), money(paid_out)),
        (_("Expected"), money(expected)),
    ]
    if count is None:
        return [*lines, (_("Counted"), _("not yet"))]
    return [*lines, (_("Counted"), money(count.counted)), (_("Difference"), money(count.counted - expected))]


def _pieces(row: MarketRow, packed: Sequence[PackedRow]) -> list[str]:
    missing = sum(each.is_missing and not each.is_written_off for each in packed)
    left = sum(each.is_left for each in packed)
    sold = ngettext("{n} piece sold.", "{n} pieces sold.", row.result.sold, n=row.result.sold)
    if not packed:
        return [sold]
    counts = _("{all} packed, {left} left, {missing} missing.", all=len(packed), left=left, missing=missing)
    return [sold, counts]


def _sold(row: MarketRow, formatter: Formatter) -> list[tuple[str, str, str]]:
    if not row.kept:
        return []
    lines = [
        (line.piece.title, line.sale.channel.name, formatter.money(line.line.paid - line.refunded.amount))
        for line in row.kept
    ]
    return [(_("Piece sold"), _("Sales channel"), _("Paid")), *lines]
