"""What programs send about pieces and their prices, for tests that spoil it."""

from typing import Any

from tests.small_studio import SmallStudio


def bodies_of_pieces(studio: SmallStudio, day: str) -> dict[str, dict[str, Any]]:
    """Bodies that are accepted, by the address below /api/."""
    piece = studio.for_sale.pk
    described = {"title": "Neap", "series": "Tides", "series_number": 2, "edition": "x", "year": 2025}
    return {
        "pieces/": {**described, "pours": [studio.loose.pk], "description": "", "size_note": ""},
        f"pieces/{studio.dry.pk}/status/": {"to": "finished", "on": day, "note": "", "anyway": True},
        f"pieces/{piece}/price/": {"price": "45.00"},
        f"pieces/{piece}/description/": described,
        "prices/": {"prices": [{"piece": piece, "price": "45.00"}]},
        "pieces/brought-in/": {
            "on": day,
            "pieces": [
                {
                    **described,
                    "surface": studio.loose.surface_id,
                    "technique": studio.loose.technique_id,
                    "cost": "14.00",
                    "labour": "9.00",
                    "overhead": "1.00",
                    "price": "45.00",
                    "is_for_sale": True,
                    "location": None,
                    "description": "",
                    "size_note": "",
                }
            ],
        },
        "pieces/together/": {
            "on": day,
            "pieces": [{"piece": piece, "title": "Neap", "series_number": 2, "price": "45.00"}],
            "series": "Tides",
            "up_to": "for_sale",
            "packing": {"materials": [{"material": studio.varnish.pk, "quantity": "2 ml"}], "minutes": 2},
            "anyway": True,
            "confirm_gain": False,
        },
    }
