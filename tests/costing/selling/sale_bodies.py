"""What programs send about sales, for the tests that try every endpoint."""

from typing import Any

from tests.costing.commissions.stories import order_of
from tests.costing.selling.stories import a_correctable_sale, a_returned_line
from tests.small_studio import SmallStudio


def bodies_of_sales(studio: SmallStudio, day: str) -> dict[str, dict[str, Any]]:
    line, mistyped = studio.sale.lines.get().pk, a_correctable_sale(studio)
    piece, channel = studio.for_sale.pk, studio.channel.pk
    correction = {
        "channel": channel,
        "on": day,
        "postage": "4.50",
        "postage_paid": "3.95",
        "buyer": None,
        "lines": [{"line": mistyped.lines.get().pk, "price": "160.00", "discount": "2.50"}],
        "reason": "x",
        "confirmed": [],
    }
    returned = a_returned_line(studio)
    return {
        f"sales/{returned.sale_id}/return/undo/": {"line": returned.pk, "note": "x"},
        f"sales/{mistyped.pk}/corrections/": correction,
        f"sales/{mistyped.pk}/corrections/preview/": correction,
        "sales/": {
            "lines": [{"piece": piece, "price": "160.00", "discount": "2.50"}],
            "channel": channel,
            "discount": "1.00",
            "postage": "4.50",
            "postage_paid": "3.95",
            "on": day,
            "buyer": None,
            "for_commission": order_of(studio).pk,
            "note": "x",
            "confirmed": [],
        },
        f"sales/{studio.sale.pk}/refund/": {
            "line": line,
            "on": day,
            "amount": "1.00",
            "fees": "0",
            "note": "x",
        },
        f"sales/{studio.sale.pk}/return/": {
            "line": line,
            "on": day,
            "amount": "10.00",
            "fees": "0.50",
            "condition": "second",
            "reason": None,
            "note": "x",
        },
    }
