"""What programs send about where pieces are, for tests that spoil it."""

from typing import Any

from tests.small_studio import SmallStudio


def bodies_of_locations(studio: SmallStudio, day: str) -> dict[str, dict[str, Any]]:
    """Bodies that are accepted, by the address below /api/."""
    person = {"contact": studio.contact.pk, "new_name": "", "until": day, "on": day, "note": "For the show"}
    return {
        "contacts/": {"name": "Slipway Gallery", "reach": "Harbour Row", "note": "Closed on Mondays"},
        f"contacts/{studio.contact.pk}/erase/": {},
        "locations/": {"name": "Slipway Gallery", "kind": "gallery", "channel": studio.channel.pk},
        "placements/": {"pieces": [studio.dry.pk], "to": studio.box.pk, "on": day, "note": "For the market"},
        "loans/": {"piece": studio.dry.pk, **person},
        "reservations/": {"piece": studio.for_sale.pk, **person},
    }
