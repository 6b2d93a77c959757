"""An order on paper: to whom, from whom, where to, and its lines in packs."""

from collections.abc import Sequence
from dataclasses import dataclass

from studio.papers.frame import PageFrame, Paper
from studio.papers.lines import Line, LinesPaper, draw_lines
from studio.translation import _


@dataclass(frozen=True, slots=True)
class PaperLine:
    """One line of the order, every text ready to print; no price where nobody shall see it."""

    name: str
    detail: str
    packs: str
    pack: str
    price: str = ""


@dataclass(frozen=True, slots=True)
class OrderPaper:
    """Everything on the paper. Addresses are a heading and their lines, `facts` pairs of a term and its text."""

    addresses: Sequence[tuple[str, Sequence[str]]]
    facts: Sequence[tuple[str, str]]
    lines: Sequence[PaperLine]
    total: str = ""
    notes: str = ""

    @property
    def has_prices(self) -> bool:
        return any(line.price for line in self.lines)


def draw_order(order: OrderPaper, frame: PageFrame, *, paper: str | Paper = "A4") -> bytes:
    """Return the order as a PDF on the paper named. Raises InputError when the paper is not known."""
    return draw_lines(order_lines(order), frame, paper=paper)


def order_lines(order: OrderPaper) -> LinesPaper:
    """The order as a paper of lines."""
    heads, shares = [_("Packs"), _("Pack size")], [0.12, 0.24]
    if order.has_prices:
        heads, shares = [*heads, _("Price")], [0.1, 0.2, 0.18]
    lines = [
        Line(line.name, line.detail, [line.packs, line.pack, line.price][: len(heads)])
        for line in order.lines
    ]
    return LinesPaper(
        addresses=order.addresses,
        facts=order.facts,
        name_head=_("Material"),
        heads=heads,
        shares=shares,
        lines=lines,
        total=order.total,
        notes=order.notes,
    )
