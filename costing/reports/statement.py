"""The year end as lines, declared once for the page, the file, the paper and programs.

A figure is rounded to the minor unit by itself, so that it reads the same wherever it stands; where lines lead to a
total, what rounding leaves over has a line of its own.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal
from urllib.parse import urlencode

from django.urls import reverse
from django.utils.translation import gettext_lazy

from costing.reports.calculations import TAKEN_OUT, Stage, Way
from costing.reports.queries import Period, YearEnd
from inventory.ledger.models import Place
from studio.translation import _
from studio.values.money import round_to_minor

STAGES = {
    Stage.RAW: gettext_lazy("Materials as bought"),
    Stage.MIXED: gettext_lazy("Mixed in the studio"),
    Stage.WORK: gettext_lazy("Work in progress"),
    Stage.FINISHED: gettext_lazy("Finished pieces"),
    Stage.CONSIGNED: gettext_lazy("Pieces with galleries"),
}
WAYS = {
    Way.ABNORMAL: gettext_lazy("abnormal loss"),
    Way.NORMAL: gettext_lazy("normal loss"),
    Way.SAMPLE: gettext_lazy("samples"),
    Way.COUNT: gettext_lazy("stocktake difference"),
    Way.GIFT: gettext_lazy("gifts"),
    Way.OWN_USE: gettext_lazy("own use"),
}
Kind = Literal["line", "sum", "total"]


@dataclass(frozen=True, slots=True)
class StatementLine:
    """One figure in millionths; None for one that is not known. `url` leads to what is behind it."""

    key: str
    label: str
    money: int | None
    kind: Kind = "line"
    note: str = ""
    url: str = ""
    part: str = ""


@dataclass(frozen=True, slots=True)
class StatementPart:
    """Lines under a heading, the last of which is their outcome."""

    key: str
    title: str
    lines: tuple[StatementLine, ...]


def statement_of(found: YearEnd, currency: str) -> list[StatementPart]:
    """Stock, profit, cash and what is owed and was taken out."""
    return [
        _part("stock", _("Stock, at the cost of its materials"), _stock(found), currency),
        _part("profit", _("Profit"), _profit(found), currency),
        _part("cash", _("Received and paid"), _cash(found), currency),
        _part("beside", _("Beside the profit"), _beside(found), currency),
    ]


def _part(key: str, title: str, lines: Iterable[StatementLine], currency: str) -> StatementPart:
    """The lines with their figures rounded, each sum preceded by what rounding left over."""
    shown: list[StatementLine] = []
    exact = printed = 0
    for line in lines:
        if line.money is None:
            shown.append(_in(line, title, None))
            continue
        rounded = round_to_minor(line.money, currency)
        if line.kind == "line":
            exact, printed = exact + line.money, printed + rounded
        elif key != "beside":
            if rounded != printed:
                rest = StatementLine(f"rounding-{line.key}", _("Rounding"), rounded - printed)
                shown.append(_in(rest, title, rest.money))
            exact, printed = line.money, rounded
        shown.append(_in(line, title, rounded))
    return StatementPart(key, title, tuple(shown))


def _in(line: StatementLine, part: str, money: int | None) -> StatementLine:
    return StatementLine(line.key, line.label, money, line.kind, line.note, line.url, part)


def _behind(period: Period, place: Place, **asked: object) -> str:
    """The postings that a figure sums up."""
    query = {"place": place.value, "first": period.first, "last": period.last, **asked}
    return f"{reverse('inventory:postings')}?{urlencode(query)}"


def _lost(period: Period, way: Way) -> str:
    """What was lost, and of stocktake differences what was found, entry by entry."""
    query = {"way": way.value, "first": period.first, "last": period.last}
    return f"{reverse('inventory:postings')}?{urlencode(query)}"


def _owned(period: Period, stage: Stage, *, is_opening: bool) -> str:
    day = period.day_before if is_opening else period.last
    return f"{reverse('costing:year-end-owned')}?{urlencode({'day': day, 'stage': stage.value})}"


def _stages(found: YearEnd, *, is_opening: bool) -> Sequence[StatementLine]:
    sums = found.stock.opening if is_opening else found.stock.closing
    when, sign = ("opening", 1) if is_opening else ("closing", -1)
    return [
        StatementLine(
            f"{when}-{stage}",
            str(STAGES[stage]),
            sign * money,
            note=_("at the start") if is_opening else _("left at the end"),
            url=_owned(found.period, stage, is_opening=is_opening),
        )
        for stage, money in sums.items()
        if money
    ]


def _stock(found: YearEnd) -> Iterable[StatementLine]:
    stock, period = found.stock, found.period
    yield from _stages(found, is_opening=True)
    yield StatementLine("opening", _("Opening stock"), stock.opened_with, "sum")
    outside = _behind(period, Place.OUTSIDE)
    if stock.brought_in:
        yield StatementLine("brought-in", _("Entered as opening stock"), stock.brought_in, url=outside)
    yield StatementLine("purchases", _("Purchases"), stock.purchases, url=outside)
    if stock.found:
        url = _behind(period, Place.GAIN)
        yield StatementLine("found", _("Found in stocktakes"), stock.found, url=url)
    yield StatementLine("available", _("Available"), stock.available, "sum")
    for loss in stock.losses:
        url = _behind(period, Place.LOSS, reason=loss.reason)
        note = str(WAYS[loss.way])
        note = "" if note.casefold() == loss.name.casefold() else note
        yield StatementLine(f"loss-{loss.reason}", loss.name, -loss.money, note=note, url=url)
    yield from _stages(found, is_opening=False)
    sold = _behind(period, Place.SOLD)
    yield StatementLine("cost-of-sales", _("Cost of sales"), stock.cost_of_sales, "total", url=sold)


def _profit(found: YearEnd) -> Iterable[StatementLine]:
    profit, stock = found.profit, found.stock
    earnings = reverse("costing:earnings")
    for each in profit.channels:
        query = {"channel": each.channel, "first": found.period.first, "last": found.period.last}
        note = _("tax taken off") if each.tax else ""
        url = f"{earnings}?{urlencode(query)}"
        yield StatementLine(f"sales-{each.channel}", each.name, each.net_sales, note=note, url=url)
    yield StatementLine("net-sales", _("Net sales"), profit.net_sales, "sum")
    url = _behind(found.period, Place.SOLD)
    yield StatementLine("less-cost-of-sales", _("less cost of sales"), -stock.cost_of_sales, url=url)
    yield StatementLine("gross-profit", _("Gross profit"), profit.gross_profit, "sum")
    for each in profit.channels:
        if each.selling_costs:
            label = _("less fees and postage: {channel}", channel=each.name)
            yield StatementLine(f"fees-{each.channel}", label, -each.selling_costs)
    if profit.market_costs:
        label, url = _("less pitch fees and travel"), reverse("costing:markets")
        yield StatementLine("markets", label, -profit.market_costs, url=url)
    yield from _losses(found)
    yield _overhead(found)
    if profit.write_downs:
        label = _("less stock written down") if profit.write_downs > 0 else _("plus stock written up again")
        url = f"{reverse('costing:write-downs')}?{urlencode({'day': found.period.last})}"
        yield StatementLine("write-downs", label, -profit.write_downs, url=url)
    if profit.deposits_kept:
        yield StatementLine("kept", _("plus deposits kept"), profit.deposits_kept)
    label = _("Profit before your own wage")
    yield StatementLine("net-profit", label, profit.net_profit, "total")


def _losses(found: YearEnd) -> Iterable[StatementLine]:
    stock = found.stock
    for way in Way:
        money = stock.lost_by(way) - (stock.found if way is Way.COUNT else 0)
        if money and way not in TAKEN_OUT:
            label = _("less losses: {kind}", kind=WAYS[way])
            yield StatementLine(f"losses-{way}", label, -money, url=_lost(found.period, way))


def _overhead(found: YearEnd) -> StatementLine:
    label, url = _("less overhead paid"), reverse("costing:overhead")
    if found.profit.overhead is None:
        note = _("not entered for this period")
        return StatementLine("overhead", label, None, note=note, url=url)
    return StatementLine("overhead", label, -found.profit.overhead, url=url)


def _cash(found: YearEnd) -> Iterable[StatementLine]:
    cash = found.cash
    yield StatementLine("received", _("Received from buyers"), cash.received)
    yield StatementLine("refunded", _("less paid back to buyers"), -cash.refunded)
    yield StatementLine("cash-fees", _("less fees and postage"), -cash.selling_costs)
    note = _("on the day of the delivery")
    yield StatementLine("cash-purchases", _("less purchases"), -cash.purchases, note=note)
    yield StatementLine("cash-markets", _("less pitch fees and travel"), -cash.market_costs)
    if cash.overhead is not None:
        yield StatementLine("cash-overhead", _("less overhead paid"), -cash.overhead)
    yield StatementLine("cash", _("Received less paid"), cash.difference, "total")


def _beside(found: YearEnd) -> Iterable[StatementLine]:
    out = found.taken_out
    note = _("gifts and own use; your accountant says whether a gift is a cost")
    yield StatementLine("taken-out", _("Taken out, at cost"), out.cost, note=note)
    if out.pieces:
        note = _("what the pieces among it would have been sold for")
        yield StatementLine("taken-out-value", _("Taken out, at market value"), out.market_value, note=note)
    for each in found.overhead_years:
        if each.absorption is not None:
            name = str(each.year)
            over = _("Overhead absorbed too much, {year}", year=name)
            under = _("Overhead absorbed too little, {year}", year=name)
            label = over if each.absorption.is_over else under
            yield StatementLine(f"absorption-{each.year.pk}", label, each.absorption.amount)
    if found.deposits or found.deposits_before:
        yield StatementLine("deposits", _("Customer deposits, owed at the end"), found.deposits)
    if found.written_down:
        yield StatementLine("written-down", _("Written down at the end"), found.written_down)
        yield StatementLine("carried", _("Stock at the lower of cost and what it will bring"), found.carried)
