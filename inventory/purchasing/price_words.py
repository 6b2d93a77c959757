"""Changes of prices in words, with their sign, their figure and their share."""

from collections.abc import Iterable, Mapping
from dataclasses import replace

from inventory.purchasing.models import OrderLine
from inventory.purchasing.price_changes import LastPaid, NewPackPrice, PriceChange
from studio.preferences.formatting import Formatter
from studio.translation import _


def change_in_words(change: PriceChange, formatter: Formatter) -> str:
    """ "£13.20, which is £0.70 (5.6%) more than ordered: £12.50"."""
    own = replace(formatter, currency=change.currency)
    words = {
        "price": own.money(change.price),
        "difference": own.money(abs(change.difference)),
        "share": own.percent(change.share),
        "before": own.money(change.before),
    }
    if change.paid_on is None:
        if change.difference > 0:
            return _("{price} is {difference} ({share}) more than ordered: {before}.", **words)
        return _("{price} is {difference} ({share}) less than ordered: {before}.", **words)
    words["day"] = own.day(change.paid_on)
    if change.difference > 0:
        return _(
            "{price} is {difference} ({share}) more than last paid for as much: {before} on {day}.", **words
        )
    return _("{price} is {difference} ({share}) less than last paid for as much: {before} on {day}.", **words)


def short_change(change: PriceChange, formatter: Formatter) -> str:
    """ "▲ £0.70 (5.6%) more than ordered" for a line of a table."""
    own = replace(formatter, currency=change.currency)
    words = {"difference": own.money(abs(change.difference)), "share": own.percent(change.share)}
    if change.paid_on is None:
        if change.difference > 0:
            return _("▲ {difference} ({share}) more than ordered", **words)
        return _("▼ {difference} ({share}) less than ordered", **words)
    words["day"] = own.day(change.paid_on)
    if change.difference > 0:
        return _("▲ {difference} ({share}) more than on {day}", **words)
    return _("▼ {difference} ({share}) less than on {day}", **words)


def new_price_in_words(new: NewPackPrice, formatter: Formatter) -> str:
    """ "500 mL of Titanium White: £13.20 here, £12.50 on the list." """
    own = replace(formatter, currency=new.line.delivery.currency)
    material = new.line.lot.material
    words = {
        "pack": own.quantity(new.pack, material.measure),
        "material": material,
        "price": own.money(new.price),
    }
    if new.supply is None:
        return _("{pack} of {material}: {price} here, not on the list yet.", **words)
    return _(
        "{pack} of {material}: {price} here, {listed} on the list.",
        **words,
        listed=own.money(new.supply.price),
    )


def price_hints(
    lines: Iterable[OrderLine], paid: Mapping[int, LastPaid], formatter: Formatter
) -> dict[int, str]:
    """What to compare the price of each order line with before it is posted: the order's, and what was paid last."""
    return {line.pk: _hint(line, paid.get(line.material_id), formatter) for line in lines}


def _hint(line: OrderLine, paid: LastPaid | None, formatter: Formatter) -> str:
    own = replace(formatter, currency=line.order.currency)
    measure, hints = line.material.measure, []
    if line.price:
        words = {"price": own.money(line.price), "each": own.unit_cost(line.price, line.quantity, measure)}
        hints.append(_("Ordered: {price}, {each}.", **words))
    if paid is not None:
        each = replace(formatter, currency=paid.currency).unit_cost(paid.price, paid.quantity, measure)
        hints.append(_("Last paid: {each} on {day}.", each=each, day=own.day(paid.paid_on)))
    return " ".join(hints)
