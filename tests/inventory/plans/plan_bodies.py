"""Bodies that the endpoints of plans accept, to be spoilt by the hostile tests."""

from typing import Any

from tests.days import TODAY
from tests.making import the_technique
from tests.small_studio import SmallStudio


def bodies_of_plans(studio: SmallStudio, colours: list[dict[str, Any]]) -> dict[str, dict[str, Any]]:
    day = TODAY.isoformat()
    line = {
        "surface": studio.canvas.pk,
        "count": 2,
        "technique": the_technique().pk,
        "colours": colours,
        "arm": "white last",
        "poured": "60 ml",
    }
    return {
        "plans/": {
            "name": "Neap tide boards",
            "planned_on": day,
            "lines": [line],
            "extra_paint": "0.1",
            "include_expired": True,
            "notes": "x",
            "versions": [studio.colour.pk],
            "lots": [studio.lot.pk],
        },
        "then-and-now/": {"pours": [studio.loose.pk]},
        "repeats/": {
            "session": studio.session.pk,
            "name": "Neap tide boards",
            "planned_on": day,
            "choices": {"amounts": "now"},
        },
    }
