"""An order closes by itself once everything on it has come, and opens again when some of that is taken back."""

from collections.abc import Iterable

from inventory.ledger.models import Posting
from inventory.purchasing.incoming import progress_of
from inventory.purchasing.models import Delivery, Order


def settle(order: Order) -> Order:
    """Close or open an order by what has come of it. One whose rest was cancelled stays closed."""
    has_all_come = progress_of([order])[0].has_all_come
    if has_all_come != order.is_closed and not order.rest_cancelled:
        order.is_closed = has_all_come
        order.save()
    return order


def settle_orders_of(delivery: Delivery) -> list[Order]:
    """Settle what a delivery belongs to, by its head or by its lines; returns those orders."""
    numbers = {delivery.order_id, *delivery.lines.values_list("order_line__order", flat=True)}
    return [settle(order) for order in _locked([number for number in numbers if number is not None])]


def settle_after_reversal(posting: Posting) -> None:
    """A reversed delivery never came, and a correction of one that is reversed did not change it."""
    delivery = Delivery.objects.filter(posting__in=[posting.pk, posting.corrects_id]).first()
    if delivery is not None:
        settle_orders_of(delivery)


def _locked(numbers: Iterable[int]) -> list[Order]:
    return list(Order.objects.select_for_update(no_key=True).filter(pk__in=numbers).order_by("pk"))
