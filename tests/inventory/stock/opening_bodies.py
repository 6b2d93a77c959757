"""What programs send about opening stock, for the tests that try every endpoint."""

from typing import Any

from tests.making import make_opening, money, units
from tests.small_studio import SmallStudio


def bodies_of_opening(studio: SmallStudio) -> dict[str, dict[str, Any]]:
    began = make_opening(lines=[(studio.lot.material, units(100), money(1))])
    lot = began.entries.filter(lot__isnull=False)[0].lot_id
    body = {
        "received_on": "2025-06-09",
        "lines": [{"lot": lot, "quantity": "120 ml", "money": "1.50"}],
        "reason": "Counted again",
    }
    path = f"opening-stock/{began.pk}/corrections/"
    return {path: body, f"{path}preview/": body}
