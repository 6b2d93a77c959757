"""A usual set for a session, the form as the browser sends it, and what stands on the page that comes back."""

import re
from collections.abc import Iterable
from typing import Any

from django.test import Client
from django.urls import reverse

from inventory.materials.models import Kind, Material
from inventory.recipes.models import RecipeVersion
from tests.days import DAY, TODAY
from tests.inventory.browsing import KEY
from tests.making import (
    make_delivery,
    make_material,
    make_recipe,
    make_surface,
    make_water,
    money,
    the_technique,
    units,
)


class Bench:
    """A usual set: three colours of paint, medium and water, canvases, and gloves."""

    def __init__(self, *, canvases: int = 10) -> None:
        self.white, self.amber, self.green = (
            make_material(name=name) for name in ("Sail Loft White", "Lantern Amber", "Tidewrack Green")
        )
        self.medium = make_material(name="Loft medium", kind=Kind.MEDIUM, density=1_060_000)
        self.water = make_water(name="Tap water")
        self.canvas = make_surface(name="Canvas 30")
        self.gloves = make_material(name="Gloves", kind=Kind.SUNDRY, measure="count")
        make_delivery(
            lines=[
                (self.white, units(1000), money(10)),
                (self.amber, units(500), money(10)),
                (self.green, units(500), money(10)),
                (self.medium, units(3000), money(15)),
                (self.canvas, units(canvases), money("3.50") * canvases),
                (self.gloves, units(20), money(4)),
            ],
            on=TODAY - 5 * DAY,
        )
        self.recipes = [
            self.recipe(name, paint)
            for name, paint in (("White", self.white), ("Amber", self.amber), ("Green", self.green))
        ]
        self.ring = the_technique("Ring pour")

    def recipe(self, name: str, paint: Material) -> RecipeVersion:
        makes = make_material(name=f"{name}, mixed", kind=Kind.MIX, density=None)
        return make_recipe(
            parts=[(paint, 1), (self.medium, 2), (self.water, 1)], makes=makes, name=f"{name} recipe"
        )

    def cup(self, number: int, wanted: str = "400 ml", **more: Any) -> dict[str, Any]:
        return {"contents": f"r{self.recipes[number].recipe_id}", "wanted": wanted, **more}

    def pours(self, **more: Any) -> dict[str, Any]:
        usual = {"alike": "6", "surface": self.canvas.pk, "technique": self.ring.pk, "each": "180 ml"}
        return usual | more


def sent(
    *,
    cups: Iterable[dict[str, Any]] = (),
    pours: Iterable[dict[str, Any]] = (),
    sundries: Iterable[dict[str, Any]] = (),
    **head: Any,
) -> dict[str, Any]:
    """A session as the browser sends it, with the rows nobody touched."""
    data: dict[str, Any] = {"key": KEY, "held_on": "2025-06-10"} | head
    untouched = {
        "cups": (3, {"leftover": "kept"}),
        "pours": (1, {"alike": "1", "failed": "0"}),
        "sundries": (1, {}),
    }
    for prefix, rows in (("cups", cups), ("pours", pours), ("sundries", sundries)):
        typed = list(rows)
        at_first, row_at_first = untouched[prefix]
        total = max(len(typed), at_first)
        data |= {f"{prefix}-TOTAL_FORMS": str(total), f"{prefix}-INITIAL_FORMS": "0"}
        for number in range(total):
            row = row_at_first | (typed[number] if number < len(typed) else {})
            data |= {f"{prefix}-{number}-{name}": value for name, value in row.items()}
    return data


def value_of(response: Any, name: str) -> str:
    """What stands in a field of the page."""
    tag = re.search(rf'<input[^>]*name="{re.escape(name)}"[^>]*>', response.content.decode())
    assert tag is not None, name
    found = re.search(r'value="([^"]*)"', tag.group())
    return found.group(1) if found else ""


def log(client: Client, data: dict[str, Any]) -> Any:
    return client.post(reverse("inventory:session-new"), data)
