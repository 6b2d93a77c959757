"""Bodies that the endpoints of orders accept, to be spoilt by the hostile tests."""

from typing import Any

from tests.days import TODAY
from tests.small_studio import SmallStudio


def bodies_of_orders(studio: SmallStudio) -> dict[str, dict[str, Any]]:
    day, order = TODAY.isoformat(), studio.order
    new = {"material": studio.paint.pk, "pack": "500 ml", "packs": 2, "price": "18.40"}
    kept = {"id": order.lines.get().pk, "material": studio.varnish.pk, "pack": "500 ml", "price": "17.43"}
    head = {"reference": "LC-7", "deliver_to": "Net loft", "sent_on": day, "sent_by": "email", "notes": "x"}
    came = {"material": studio.varnish.pk, "pack": "500 ml", "price": "17.43", "order_line": kept["id"]}
    return {
        "orders/": {"supplier": studio.supplier.pk, "ordered_on": day, "lines": [new], **head},
        f"orders/{order.pk}/change/": {"expected_on": day, "lines": [kept, new], **head},
        f"orders/{order.pk}/sent/": {"sent_by": "phone"},
        f"orders/{order.pk}/chase/": {"asked_on": day, "promised_on": day, "note": "x"},
        f"orders/{order.pk}/receive/": {"received_on": day, "carriage": "4.95", "lines": [came]},
        f"orders/{order.pk}/close/": {},
        f"orders/{order.pk}/reopen/": {},
        f"deliveries/{studio.delivery.pk}/pack-prices/": {"lots": [studio.lot.pk]},
    }
