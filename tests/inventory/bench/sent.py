"""What programs send of a bench."""

from typing import Any

from tests.days import TODAY
from tests.making import the_technique
from tests.small_studio import SmallStudio


def bodies_of_benches(studio: SmallStudio) -> dict[str, dict[str, Any]]:
    """For every POST of a bench a body that it takes as it stands."""
    version = studio.recipe.versions.all()[0]
    cups = [
        {
            "material": studio.recipe.makes_id,
            "version": version.pk,
            "parts": [{"material": part.material_id, "quantity": 100_000} for part in version.parts.all()],
        },
        {"material": studio.paint.pk, "ready": 5_000},
    ]
    line = {
        "surface": studio.canvas.pk,
        "technique": the_technique().pk,
        "count": 1,
        "doses": [{"cup": 1, "quantity": 100_000}, {"cup": 2, "quantity": 1_000}],
    }
    return {
        "benches/": {
            "plan": studio.plan.pk,
            "held_on": TODAY.isoformat(),
            "work": {"cups": cups, "lines": [line]},
            "touches": [{"what": "spilled", "cup": 1, "quantity": 1_000}, {"what": "poured", "pour": 1}],
            "leftover": "residue",
            "minutes": 5,
        }
    }
