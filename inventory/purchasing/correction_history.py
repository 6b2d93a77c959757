"""What corrections of deliveries changed, from what to what, in words for pages and programs."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from django.db.models import Prefetch, Q, QuerySet
from django.utils.dateparse import parse_date
from django.utils.translation import gettext_lazy

from inventory.ledger.models import Posting
from inventory.purchasing.models import CorrectedFigure, Delivery, DeliveryCorrection
from studio.preferences.formatting import Formatter
from studio.values.money import rate_text

# `typed` only says how a pack was written, and `invoiced` adds up the prices of the lines.
NAMES = {
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
OPEN_TO_ALL = ("received_on", "packs", "quantity")


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
    rows = corrections.select_related(
        "delivery", "posting__recorded_by", "posting__reversed_by"
    ).prefetch_related(Prefetch("figures", figures.order_by("pk")))
    return [
        PastCorrection(
            each.posting, [_in_words(figure, each.delivery, formatter) for figure in _shown(each, formatter)]
        )
        for each in rows.order_by("posting_id")
    ]


def _shown(correction: DeliveryCorrection, formatter: Formatter) -> list[CorrectedFigure]:
    """Without what was paid for an invoice in the studio's own currency: its line prices say that."""
    is_foreign = correction.delivery.currency != formatter.currency
    return [figure for figure in correction.figures.all() if is_foreign or figure.name != "paid"]


def _in_words(figure: CorrectedFigure, delivery: Delivery, formatter: Formatter) -> ChangedFigure:
    write = _writer(figure, delivery, formatter)
    line = figure.line
    return ChangedFigure(
        lot=line.lot_id if line else 0,
        subject=f"{line.lot.material.name}, {line.lot.label}" if line else "",
        name=figure.name,
        label=str(NAMES[figure.name]),
        before=write(figure.before) if figure.before else "–",
        after=write(figure.after) if figure.after else "–",
    )


def _writer(figure: CorrectedFigure, delivery: Delivery, formatter: Formatter) -> Callable[[str], str]:
    """How a figure of this name is written, from the text that is stored."""
    match figure.name:
        case "received_on" | "rate_on":
            return lambda text: formatter.day(parse_date(text))
        case "rate":
            return lambda text: rate_text(Decimal(text), decimal_comma=formatter.decimal_comma)
        case "carriage_shared_by":
            return lambda text: str(Delivery.SharedBy(text).label)
        case "packs":
            return str
        case "quantity" if figure.line is not None:
            measure = figure.line.lot.material.measure
            return lambda text: formatter.quantity(int(text), measure)
        case "price":
            return lambda text: replace(formatter, currency=delivery.currency).money(int(text))
    return lambda text: formatter.money(int(text))
