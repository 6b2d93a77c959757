"""An order as its supplier reads it: on paper and as the text of an email, the same lines in both."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from urllib.parse import quote, urlencode

from inventory.materials.models import Supply
from inventory.purchasing.models import Order, OrderLine
from inventory.purchasing.papers import OrderPaper, PaperLine
from studio.preferences.formatting import Formatter
from studio.preferences.models import Studio
from studio.translation import _, pgettext


@dataclass(frozen=True, slots=True)
class OrderTexts:
    """An order written out for its supplier; without prices for whoever may not see them."""

    order: Order
    lines: Sequence[PaperLine]
    total: str
    studio: Studio

    @property
    def formatter(self) -> Formatter:
        return Formatter.of(self.studio)

    @property
    def paper(self) -> OrderPaper:
        """For printing."""
        order = self.order
        addresses = [
            (pgettext("addressee", "To"), [order.supplier.name, *order.supplier.address.splitlines()])
        ]
        if order.deliver_to:
            addresses.append((_("Deliver to"), [self.studio.name, *order.deliver_to.splitlines()]))
        return OrderPaper(addresses, self.facts, self.lines, self.total, order.notes)

    @property
    def facts(self) -> list[tuple[str, str]]:
        """The order's number and whatever the supplier finds it by."""
        order = self.order
        facts = [
            (_("Our order number"), str(order.number)),
            (_("Ordered on"), self.formatter.day(order.ordered_on)),
            (_("Our customer number"), order.supplier.customer_number),
            (_("Your reference"), order.reference),
        ]
        return [(term, text) for term, text in facts if text]

    @property
    def subject(self) -> str:
        return _("Order {number} from {studio}", number=self.order.number, studio=self.studio.name)

    @property
    def email(self) -> str:
        """The text of an email, ready to send."""
        parts = [
            _("Hello,"),
            _("Please supply the following."),
            "\n".join(f"{term}: {text}" for term, text in self.facts),
            "\n".join(_as_text(line) for line in self.lines),
        ]
        if self.total:
            parts.append(_("Total: {total}", total=self.total))
        if self.order.deliver_to:
            parts.append("\n".join([_("Deliver to:"), self.studio.name, self.order.deliver_to]))
        if self.order.notes:
            parts.append(self.order.notes)
        parts += [_("Please let us know when you expect to deliver."), self.studio.name]
        return "\n\n".join(parts)

    @property
    def mail_address(self) -> str:
        """What opens an email to the supplier, filled in (RFC 6068)."""
        lines = self.email.replace("\n", "\r\n")
        query = urlencode({"subject": self.subject, "body": lines}, quote_via=quote)
        return f"mailto:{quote(self.order.supplier.email, safe='@')}?{query}"


def texts_of(order: Order, studio: Studio, *, with_prices: bool) -> OrderTexts:
    """An order with its supplier, written out, in two queries. An order without prices has no total."""
    formatter = replace(Formatter.of(studio), currency=order.currency)
    lines = list(order.lines.select_related("material").order_by("pk"))
    barcodes = {
        (supply.material_id, supply.pack_size): supply.barcode
        for supply in Supply.objects.filter(
            supplier=order.supplier_id, material__in=[line.material_id for line in lines]
        )
    }
    written = [
        PaperLine(
            name=line.material.name,
            detail=_detail(line, barcodes.get((line.material_id, line.pack), "")),
            packs=f"{line.packs:,}",
            pack=line.typed or formatter.quantity(line.pack, line.material.measure),
            price=formatter.money(line.price) if with_prices and line.price else "",
        )
        for line in lines
    ]
    priced = sum(line.price for line in lines)
    is_whole = with_prices and all(line.price for line in lines)
    return OrderTexts(order, written, formatter.money(priced) if is_whole else "", studio)


def _detail(line: OrderLine, barcode: str) -> str:
    parts = [line.material.maker, _("barcode {digits}", digits=barcode) if barcode else ""]
    return ", ".join(filter(None, parts))


def _as_text(line: PaperLine) -> str:
    detail = f" ({line.detail})" if line.detail else ""
    price = f": {line.price}" if line.price else ""
    return f"- {line.packs} × {line.pack} {line.name}{detail}{price}"
