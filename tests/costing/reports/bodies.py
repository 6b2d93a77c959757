"""What programs send about the year end, for tests that spoil it."""

from typing import Any

from tests.small_studio import SmallStudio


def bodies_of_reports(studio: SmallStudio, day: str) -> dict[str, dict[str, Any]]:
    """Bodies that are accepted, by the address below /api/."""
    item = {"piece": studio.for_sale.pk, "value": "1.25", "note": "Scratched"}
    return {
        "write-downs/": {"on": day, "items": [item]},
        "issued-papers/": {"kind": "certificate", "about": studio.for_sale.pk},
        "printed-lists/": {"on": day, "pieces": [studio.for_sale.pk], "place": "Stall"},
    }
