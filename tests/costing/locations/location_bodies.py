"""What programs send about where pieces are, for tests that spoil it."""

from typing import Any

from tests.costing.consignments.stories import a_note
from tests.small_studio import SmallStudio


def bodies_of_locations(studio: SmallStudio, day: str) -> dict[str, dict[str, Any]]:
    """Bodies that are accepted, by the address below /api/."""
    note = a_note()
    given = note.lines.get().placement.piece_id
    person = {"contact": studio.contact.pk, "new_name": "", "until": day, "on": day, "note": "For the show"}
    return {
        "consignments/": {
            "gallery": note.gallery_id,
            "pieces": [{"piece": studio.for_sale.pk, "price": "61.77"}],
            "on": day,
            "until": day,
            "note": "In the window",
        },
        f"consignments/{note.pk}/sales/": {"pieces": [{"piece": given, "price": "45.00"}], "on": day},
        f"consignments/{note.pk}/returns/": {"pieces": [given], "on": day, "note": "For the market"},
        "contacts/": {"name": "Slipway Gallery", "reach": "Harbour Row", "note": "Closed on Mondays"},
        f"contacts/{studio.contact.pk}/change/": {"name": "Slipway", "reach": "", "note": "Moved"},
        f"contacts/{studio.contact.pk}/erase/": {},
        "locations/": {"name": "Jetty Gallery", "kind": "gallery", "channel": studio.channel.pk},
        "placements/": {"pieces": [studio.dry.pk], "to": studio.box.pk, "on": day, "note": "For the market"},
        "loans/": {"piece": studio.dry.pk, **person},
        "reservations/": {"piece": studio.for_sale.pk, **person},
    }
