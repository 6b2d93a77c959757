"""Putting a sale right that was recorded wrongly: where, when, to whom, for how much, and the postage.

In one transaction the wrong sale is undone with every fee, and the same pieces are sold as it really was. Both are
dated as the ledger asks: the undoing on the day of the wrong sale, so that its figures are as if it had never been; or,
where that day is in a closed period, on the day of the right one. Not tax or legal advice.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from django.db import transaction

from costing.errors import PieceError
from costing.selling.actions.returns import take_back_all
from costing.selling.actions.sales import PieceSold, SaleFacts, sell_under
from costing.selling.models import Sale, SaleLine
from costing.selling.queries import SaleFigures, sale_figures, with_lines
from inventory.errors import ClosedPeriod, day_in_words
from inventory.ledger.posting import LockedLedger, open_ledger
from studio.errors import InputError
from studio.preferences.models import Studio
from studio.submission import Submission
from studio.translation import _


@dataclass(frozen=True, slots=True)
class SaleCorrection:
    """What is corrected: `channel`, `on`, `postage`, `postage_paid` and `buyer` of the sale by these names, and
    `price` and `discount` of its lines by their numbers. Whatever is left out stays as recorded.
    """

    sale: Mapping[str, Any] = field(default_factory=dict)
    lines: Mapping[int, Mapping[str, int]] = field(default_factory=dict)
    reason: str = ""


@dataclass(frozen=True, slots=True)
class CorrectedSale:
    """A sale before a correction and after it."""

    before: SaleFigures
    after: SaleFigures


def correct_sale(*, sale: Sale, facts: SaleCorrection, submission: Submission) -> Sale:
    """Undo a sale and sell its pieces as corrected; returns the sale that stands in its place.

    Raises PieceError for a sale that was corrected, returned or refunded since, or when nothing differs; ClosedPeriod
    for a day in a closed period; and what selling the pieces raises.
    """
    with open_ledger(submission, facts=["correct sale", sale, facts]) as ledger:
        if ledger.earlier is not None:
            return ledger.earlier.sale_line.sale
        held = Sale.objects.select_for_update(of=("self",)).select_related("channel", "buyer").get(pk=sale.pk)
        lines = list(held.lines.select_for_update(of=("self",)).select_related("piece").order_by("pk"))
        if reason := obstacle_to_correction(held):
            raise PieceError(reason)
        recorded, prices = recorded_figures(held, lines), recorded_prices(lines)
        figures = recorded | dict(facts.sale)
        corrected = _with_prices(prices, facts.lines)
        if figures == recorded and corrected == prices:
            raise PieceError(_("Nothing has changed, so there is nothing to correct."))
        return _sell_anew(ledger, held, lines, figures, corrected, facts.reason)


def preview_correction(*, sale: Sale, facts: SaleCorrection, submission: Submission) -> CorrectedSale:
    """What a correction would change. Raises what it would; nothing of it stays."""
    with transaction.atomic():
        before = _figures_of(sale)
        after = _figures_of(correct_sale(sale=sale, facts=facts, submission=submission))
        transaction.set_rollback(True)
    return CorrectedSale(before, after)


def obstacle_to_correction(sale: Sale) -> str:
    """Why a sale cannot be corrected as it stands, and what to do instead; empty when it can."""
    after = Sale.objects.filter(corrects=sale).values_list("pk", flat=True).first()
    if after is not None:
        return _("This sale was corrected by sale {number}. Correct that one.", number=after)
    lines = sale.lines.select_related("piece").order_by("pk")
    back = lines.filter(returned_on__isnull=False).first()
    if back is not None and back.returned_on is not None:
        return _(
            "“{title}” was taken back on {day}, so this sale can no longer be corrected. If it was sold after all, "
            "record a new sale.",
            title=back.piece.title,
            day=day_in_words(back.returned_on),
        )
    refunded = lines.filter(refunds__isnull=False).first()
    if refunded is not None:
        return _(
            "A part of the price of “{title}” was refunded, so this sale can no longer be corrected. If the buyer paid "
            "less in the end, record another refund; otherwise return the piece and sell it again.",
            title=refunded.piece.title,
        )
    return ""


def recorded_figures(sale: Sale, lines: Sequence[SaleLine]) -> dict[str, Any]:
    """What somebody would have entered for a sale as recorded; its discounts are those of its lines."""
    return {
        "channel": sale.channel,
        "on": sale.sold_on,
        "postage": sum(line.postage for line in lines),
        "postage_paid": sum(line.postage_paid for line in lines),
        "buyer": sale.buyer,
    }


def recorded_prices(lines: Sequence[SaleLine]) -> dict[int, dict[str, int]]:
    """The same of its lines, by their numbers: each with its share of a discount on the whole."""
    return {line.pk: {"price": line.full_price, "discount": line.discount} for line in lines}


def _with_prices(
    recorded: Mapping[int, Mapping[str, int]], changes: Mapping[int, Mapping[str, int]]
) -> dict[int, dict[str, int]]:
    if unknown := changes.keys() - recorded.keys():
        numbers = ", ".join(str(number) for number in sorted(unknown))
        raise InputError(_("This sale has no line {numbers}.", numbers=numbers), field="lines")
    return {number: {**prices, **changes.get(number, {})} for number, prices in recorded.items()}


def _sell_anew(
    ledger: LockedLedger,
    sale: Sale,
    lines: Sequence[SaleLine],
    figures: dict[str, Any],
    prices: Mapping[int, Mapping[str, int]],
    reason: str,
) -> Sale:
    submission, channel, on = ledger.submission, figures.pop("channel"), figures.pop("on")
    commission = sale.commission  # which undoing the sale takes from it
    closed = ledger.books.closed_through
    if closed is None or closed < sale.sold_on:
        undone_on = sale.sold_on
    elif on > closed:
        undone_on = on
    else:
        raise ClosedPeriod(
            _(
                "The period up to {day} is closed, so its figures stay. Choose a later day: on that day the sale is "
                "undone and recorded again as corrected.",
                day=day_in_words(closed),
            )
        )
    undoing = replace(ledger, submission=replace(submission, on=undone_on))
    take_back_all(undoing, sale, note=reason, is_undone=True, answers=False)
    return sell_under(
        replace(ledger, submission=replace(submission, on=on)),
        lines=[PieceSold(line.piece, **prices[line.pk]) for line in lines],
        channel=channel,
        facts=SaleFacts(**figures, note=sale.note, commission=commission),
        corrects=sale,
    )


def _figures_of(sale: Sale) -> SaleFigures:
    read = with_lines(Sale.objects.filter(pk=sale.pk).select_related("buyer"))
    return sale_figures(read, Studio.current().currency)[0]
