"""Receipts and credit notes written out for paper: what the buyer paid and got back; no fee, no cost, no profit.

Amounts include tax. Not tax or legal advice.
"""

from costing.contacts.models import Contact
from costing.selling.models import Refund, Sale
from costing.selling.queries import SaleFigures, SoldPiece, paid_by
from studio.papers.lines import Line, LinesPaper
from studio.preferences.formatting import Formatter
from studio.preferences.models import Studio
from studio.translation import _, pgettext

SHARE = 0.22  # of the width, for the amounts


def receipt_title(sale: Sale) -> str:
    """A numbered sale to somebody whose address is known is billed by an invoice; any other has a receipt."""
    if sale.number and sale.buyer and sale.buyer.reach:
        return _("Invoice {number}", number=sale.number)
    return _("Receipt {number}", number=sale.number) if sale.number else _("Receipt")


def credit_note_title(refund: Refund) -> str:
    return _("Credit note {number}", number=refund.number) if refund.number else _("Credit note")


def receipt_of(figures: SaleFigures, studio: Studio, *, buyer: Contact | None) -> LinesPaper:
    """The receipt of a sale as it was made, whatever came back since. Without a buyer it is for whoever holds it."""
    sale, formatter = figures.sale, Formatter.of(studio)
    sums = []
    if figures.discount:
        sums += [
            (_("Prices"), formatter.money(figures.full_prices)),
            (_("Discount"), formatter.money(-figures.discount)),
        ]
    if figures.postage_charged:
        sums.append((_("Postage"), formatter.money(figures.postage_charged)))
    return LinesPaper(
        addresses=_addresses(studio, buyer),
        facts=[*_facts(sale, formatter), (_("Paid"), paid_by(sale.channel))],
        name_head=_("Piece"),
        heads=[_("Price")],
        shares=[SHARE],
        lines=[
            Line(each.piece.title, _detail(each), [formatter.money(each.line.full_price)])
            for each in figures.lines
        ],
        sums=sums,
        total=formatter.money(figures.charged),
        after=[*_paid_before(figures, formatter), *_tax(sale, figures.tax_charged, formatter)],
        notes=_("Decorative: not for food or drink, and not for hot cups."),
        notes_head=_("Care"),
    )


def _paid_before(figures: SaleFigures, formatter: Formatter) -> list[tuple[str, str]]:
    if not figures.sale.paid_before:
        return []
    return [
        (_("Paid before"), formatter.money(figures.sale.paid_before)),
        (_("Balance paid"), formatter.money(figures.balance)),
    ]


def credit_note_of(sold: SoldPiece, refund: Refund, studio: Studio, *, buyer: Contact | None) -> LinesPaper:
    """The credit note of a refund: for which piece of which sale, how much, and the tax in it."""
    sale, formatter = sold.sale, Formatter.of(studio)
    number = [(_("Number"), str(refund.number))] if refund.number else []
    of = receipt_title(sale) if sale.number else _("Sale {number}", number=sale.pk)
    if sold.is_corrected:
        given = _("The sale was recorded wrongly and is replaced")
    elif refund.condition:
        given = _("The piece was returned")
    else:
        given = _("A part of the price; the piece was kept")
    return LinesPaper(
        addresses=_addresses(studio, buyer),
        facts=[
            *number,
            (_("Day"), formatter.day(refund.on)),
            (_("For"), f"{of}, {formatter.day(sale.sold_on)}"),
            (_("Reason"), given),
        ],
        name_head=_("Piece"),
        heads=[_("Refunded")],
        shares=[SHARE],
        lines=[Line(sold.piece.title, _detail(sold), [formatter.money(refund.amount)])],
        total=formatter.money(refund.amount),
        after=_tax(sale, refund.tax, formatter),
    )


def _addresses(studio: Studio, buyer: Contact | None) -> list[tuple[str, list[str]]]:
    own = (_("From"), [studio.name, *studio.delivery_address.splitlines()])
    return [own, (pgettext("addressee", "To"), [buyer.name, *buyer.reach.splitlines()])] if buyer else [own]


def _facts(sale: Sale, formatter: Formatter) -> list[tuple[str, str]]:
    number = (_("Number"), str(sale.number)) if sale.number else (_("Sale"), str(sale.pk))
    return [number, (_("Day"), formatter.day(sale.sold_on))]


def _detail(sold: SoldPiece) -> str:
    return ", ".join(filter(None, [sold.piece.label, sold.piece.technique]))


def _tax(sale: Sale, tax: int, formatter: Formatter) -> list[tuple[str, str]]:
    """The tax in the total, where the studio was registered for it on that day."""
    if not sale.tax_rate:
        return []
    rate = formatter.percent(sale.tax_rate)
    return [(_("Tax included ({rate})", rate=rate), formatter.money(tax))]
