"""What a correction of a sale changes, before it is saved: the figures of each piece, and the facts of the whole."""

from collections.abc import Callable
from dataclasses import dataclass

from django.utils.translation import gettext_lazy as _
from django.utils.translation import pgettext_lazy

from costing.selling.actions.corrections import CorrectedSale
from costing.selling.models import Sale
from costing.selling.queries import SoldPiece
from studio import translation
from studio.pages.columns import Column, Label, MoneyColumn
from studio.pages.tables import Table
from studio.preferences.formatting import Formatter

SHOWN: tuple[tuple[Label, Callable[[SoldPiece], int]], ...] = (
    (_("Price"), lambda each: each.line.price),
    (_("Postage charged"), lambda each: each.line.postage),
)
WITH_MONEY: tuple[tuple[Label, Callable[[SoldPiece], int]], ...] = (
    *SHOWN,
    (_("Postage paid"), lambda each: each.line.postage_paid),
    (_("Tax"), lambda each: each.tax),
    (_("Fees"), lambda each: each.fees),
    (_("Net proceeds"), lambda each: each.net_proceeds),
    (_("Cost"), lambda each: each.cost),
    (_("Profit"), lambda each: each.profit),
)


@dataclass(frozen=True, slots=True)
class ChangedFigure:
    """One figure of one piece, before and after, in millionths of the currency unit."""

    title: str
    name: str
    before: int
    after: int


class CorrectedPieceTable(Table[ChangedFigure]):
    caption = _("Pieces of this sale, before and after")
    columns = (
        Column("piece", _("Piece"), lambda row: row.title),
        Column("figure", pgettext_lazy("in the books", "Figure"), lambda row: row.name),
        MoneyColumn("before", pgettext_lazy("figure", "Before"), lambda row: row.before, needs_money=False),
        MoneyColumn("after", pgettext_lazy("figure", "After"), lambda row: row.after, needs_money=False),
    )


def changed_figures(shown: CorrectedSale, *, sees_money: bool) -> list[ChangedFigure]:
    """The figures of each piece that have or had an amount; what is left of the price only for who sees money."""
    after = {each.line.piece_id: each for each in shown.after.lines}
    rows = []
    for was in shown.before.lines:
        now = after[was.line.piece_id]
        for name, figure in WITH_MONEY if sees_money else SHOWN:
            if figure(was) or figure(now):
                rows.append(ChangedFigure(was.piece.title, str(name), figure(was), figure(now)))
    return rows


def changed_facts(shown: CorrectedSale, formatter: Formatter) -> list[tuple[str, str, str]]:
    """Where, when and to whom, before and after, where it differs."""
    facts: tuple[tuple[str, Callable[[Sale], str]], ...] = (
        (translation._("Sales channel"), lambda sale: sale.channel.name),
        (translation._("Day"), lambda sale: formatter.day(sale.sold_on)),
        (
            translation._("Buyer"),
            lambda sale: sale.buyer.name if sale.buyer else translation._("Not recorded"),
        ),
    )
    written = [(name, fact(shown.before.sale), fact(shown.after.sale)) for name, fact in facts]
    return [each for each in written if each[1] != each[2]]
