"""What is asked before a delivery of an order is posted: more than was ordered, and another price than the order's."""

from collections import defaultdict
from collections.abc import Iterator, Sequence

from inventory.ledger.questions import each_once
from inventory.materials.models import Material
from inventory.purchasing.actions.delivery_facts import DeliveryHeader, LineFacts
from inventory.purchasing.incoming import progress_of
from inventory.purchasing.models import Order
from inventory.purchasing.price_changes import against_order
from inventory.purchasing.price_words import change_in_words
from studio.errors import Question
from studio.preferences.formatting import Formatter
from studio.preferences.models import Studio
from studio.translation import _

# A smaller difference is shown, and not asked about (own choice).
SMALLEST_SHARE = 10_000


def questions_about_order(header: DeliveryHeader, lines: Sequence[LineFacts]) -> list[Question]:
    """Everything that should be confirmed of lines that answer an order."""
    if header.order is None:
        return []
    formatter = Formatter.of(Studio.current())
    amounts = _about_amounts(header.order, lines, formatter)
    return each_once([*amounts, *_about_prices(header, lines, formatter)])


def _about_amounts(order: Order, lines: Sequence[LineFacts], formatter: Formatter) -> Iterator[Question]:
    ordered: dict[int, int] = defaultdict(int)
    received: dict[int, int] = defaultdict(int)
    for each in progress_of([order])[0].lines:
        ordered[each.line.material_id] += each.line.quantity
        received[each.line.material_id] += each.received
    coming: dict[Material, int] = defaultdict(int)
    for line in lines:
        coming[line.material] += line.quantity
    for material, quantity in coming.items():
        total = received[material.pk] + quantity
        about = (order.pk, material.pk, total)
        if material.pk not in ordered:
            text = _(
                "{material} is not on {order}. Is it part of this delivery?", material=material, order=order
            )
            yield Question("not-ordered", text, about)
        elif total > ordered[material.pk]:
            text = _(
                "{material}: with this delivery {total} has come, and {ordered} was ordered.",
                material=material,
                total=formatter.quantity(total, material.measure),
                ordered=formatter.quantity(ordered[material.pk], material.measure),
            )
            yield Question("more-than-ordered", text, about)


def _about_prices(
    header: DeliveryHeader, lines: Sequence[LineFacts], formatter: Formatter
) -> Iterator[Question]:
    for line in lines:
        if line.order_line is None:
            continue
        change = against_order(line.order_line, line.price, line.quantity, header.currency)
        if change is not None and change.share >= SMALLEST_SHARE:
            text = _(
                "{material}: {change}", material=line.material, change=change_in_words(change, formatter)
            )
            about = (line.order_line.pk, line.quantity, line.price)
            yield Question("order-price", text, about, is_money=True)
