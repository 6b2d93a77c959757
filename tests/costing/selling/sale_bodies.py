"""What programs send about sales, for the tests that try every endpoint."""

from typing import Any

from tests.costing.commissions.stories import order_of
from tests.small_studio import SmallStudio


def bodies_of_sales(studio: SmallStudio, day: str) -> dict[str, dict[str, Any]]:
    line = studio.sale.lines.get().pk
    piece, channel = studio.for_sale.pk, studio.channel.pk
    return {
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
