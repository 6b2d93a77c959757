"""What corrections of deliveries changed, from what to what, in words for pages and programs."""

from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from django.db.models import Prefetch, Q, QuerySet
from django.utils.dateparse import parse_date
from django.utils.translation import gettext_lazy

from inventory.ledger.models import Posting
from inventory.materials.models import Supplier
from inventory.purchasing.models import CorrectedFigure, Delivery, DeliveryCorrection
from studio.preferences.formatting import Formatter
from studio.values.money import rate_text

# `typed` only says how a pack was written, and `invoiced` adds up the prices of the lines.
NAMES = {
    "supplier_id": gettext_lazy("Supplier"),
    "currency": gettext_lazy("Currency of the invoice"),
    "received_on": gettext_lazy("Received on"),
    "rate": gettext_lazy("Exchange rate"),
    "rate_on": gettext_lazy("Date of the rate or payment"),
    "paid": gettext_lazy("Paid"),
    "carriage": gettext_lazy("Carriage"),
    "carriage_shared_by": gettext_lazy("Share the carriage"),
    "duty": gettext_lazy("Duty"),
    "tax": gettext_lazy("Non-reclaimable tax"),
    "packs": gettext_lazy("Packs"),
    "quantity": gettext_lazy("Received"),
    "price": gettext_lazy("Line price"),
    "landed": gettext_lazy("Landed cost"),
}
OPEN_TO_ALL = ("supplier_id", "received_on", "packs", "quantity")


@dataclass(frozen=True, slots=True)
class ChangedFigure:
    """One figure before and after, as the studio writes it. `lot` is 0 for one of the whole delivery."""

    lot: int
    subject: str  # the material and its lot; empty for the whole delivery
    name: str
    label: str
    before: str
    after: str


@dataclass(frozen=True, slots=True)
class PastCorrection:
    """One correction of a delivery: its posting, and what it changed of what the reader may see."""

    posting: Posting
    figures: Sequence[ChangedFigure]

    @property
    def is_reversed(self) -> bool:
        return hasattr(self.posting, "reversed_by")


def corrections_of_delivery(
    delivery: Delivery, formatter: Formatter, *, sees_money: bool
) -> list[PastCorrection]:
    """Everything that was corrected about a delivery, in order: two queries."""
    return _told(delivery.corrections.all(), Q(), formatter, sees_money)


def corrections_of_lot(lot: int, formatter: Formatter, *, sees_money: bool) -> list[PastCorrection]:
    """What was corrected about one lot of a delivery: its own line, and its day."""
    own = Q(line__lot=lot) | Q(line__isnull=True, name="received_on", correction__delivery__lines__lot=lot)
    figures = CorrectedFigure.objects.filter(own)
    corrections = DeliveryCorrection.objects.filter(figures__in=figures).distinct()
    return _told(corrections, own, formatter, sees_money)


def correction_of_posting(posting: Posting, formatter: Formatter, *, sees_money: bool) -> list[ChangedFigure]:
    """What a posting corrected about a delivery; nothing where it is no such correction."""
    corrections = DeliveryCorrection.objects.filter(posting=posting)
    return [figure for each in _told(corrections, Q(), formatter, sees_money) for figure in each.figures]


def _told(
    corrections: QuerySet[DeliveryCorrection], own: Q, formatter: Formatter, sees_money: bool
) -> list[PastCorrection]:
    names = [name for name in NAMES if sees_money or name in OPEN_TO_ALL]
    figures = CorrectedFigure.objects.filter(own, name__in=names).select_related("line__lot__material")
    rows = list(
        corrections.select_related("delivery", "posting__recorded_by", "posting__reversed_by")
        .prefetch_related(Prefetch("figures", figures.order_by("pk")))
        .order_by("posting_id")
    )
    currencies = _currencies(rows)
    suppliers = Supplier.objects.in_bulk(_suppliers_in(rows))
    return [
        PastCorrection(
            each.posting,
            [
                _in_words(figure, currencies[each.pk], suppliers, formatter)
                for figure in _shown(each, formatter)
            ],
        )
        for each in rows
    ]


def _currencies(corrections: Sequence[DeliveryCorrection]) -> dict[int, tuple[str, str]]:
    """The currency of the invoice before each correction and after it: the next change of it tells what it was."""
    changes: dict[int, list[tuple[int, str, str]]] = defaultdict(list)
    deliveries = {each.delivery_id for each in corrections}
    rows = CorrectedFigure.objects.filter(name="currency", correction__delivery__in=deliveries)
    columns = ("correction__delivery", "correction__posting", "before", "after")
    for delivery, posting, before, after in rows.order_by("correction__posting").values_list(*columns):
        changes[delivery].append((posting, before, after))
    currencies = {}
    for each in corrections:
        own = [change for change in changes[each.delivery_id] if change[0] == each.posting_id]
        later = [change for change in changes[each.delivery_id] if change[0] > each.posting_id]
        then = later[0][1] if later else each.delivery.currency
        currencies[each.pk] = own[0][1:] if own else (then, then)
    return currencies


def _suppliers_in(corrections: Sequence[DeliveryCorrection]) -> set[int]:
    figures = [
        figure for each in corrections for figure in each.figures.all() if figure.name == "supplier_id"
    ]
    return {int(number) for figure in figures for number in (figure.before, figure.after)}


def _shown(correction: DeliveryCorrection, formatter: Formatter) -> list[CorrectedFigure]:
    """Without what was paid for an invoice in the studio's own currency: its line prices say that."""
    is_foreign = correction.delivery.currency != formatter.currency
    return [figure for figure in correction.figures.all() if is_foreign or figure.name != "paid"]


def _in_words(
    figure: CorrectedFigure,
    currencies: tuple[str, str],
    suppliers: Mapping[int, Supplier],
    formatter: Formatter,
) -> ChangedFigure:
    before, after = (_writer(figure, currency, suppliers, formatter) for currency in currencies)
    line = figure.line
    return ChangedFigure(
        lot=line.lot_id if line else 0,
        subject=f"{line.lot.material.name}, {line.lot.label}" if line else "",
        name=figure.name,
        label=str(NAMES[figure.name]),
        before=before(figure.before) if figure.before else "–",
        after=after(figure.after) if figure.after else "–",
    )


def _writer(
    figure: CorrectedFigure, currency: str, suppliers: Mapping[int, Supplier], formatter: Formatter
) -> Callable[[str], str]:
    """How a figure of this name is written, from the text that is stored."""
    match figure.name:
        case "received_on" | "rate_on":
            return lambda text: formatter.day(parse_date(text))
        case "rate":
            return lambda text: rate_text(Decimal(text), decimal_comma=formatter.decimal_comma)
        case "carriage_shared_by":
            return lambda text: str(Delivery.SharedBy(text).label)
        case "packs" | "currency":
            return str
        case "supplier_id":
            return lambda text: suppliers[int(text)].name if int(text) in suppliers else text
        case "quantity" if figure.line is not None:
            measure = figure.line.lot.material.measure
            return lambda text: formatter.quantity(int(text), measure)
        case "price":
            return lambda text: replace(formatter, currency=currency).money(int(text))
    return lambda text: formatter.money(int(text))
