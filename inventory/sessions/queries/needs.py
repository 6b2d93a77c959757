"""What the studio has for a set to be poured, and what of it the set needs, is short of, has to buy, and costs.

Quantities are thousandths of the base unit, money millionths.
"""

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date
from fractions import Fraction
from math import ceil

from inventory.materials.models import Material
from inventory.purchasing.incoming import on_order
from inventory.recipes import calculations as mixing
from inventory.recipes.models import RecipeVersion
from inventory.recipes.queries import latest_versions, lots_by_version, plain_recipe
from inventory.sessions.most_pours import Shelf
from inventory.stock.availability import NOTHING, StockFigures
from inventory.stock.draw_costs import draw_costs
from inventory.stock.queries import held_lots, usable_and_expired

NO_VERSIONS: Mapping[int, RecipeVersion] = {}


@dataclass(frozen=True, slots=True)
class Need:
    """One material of a set, bought or mixed on the way, and how much of it there is.

    `short` is nothing while the exact need exceeds what is available by no more than the rounding of cups can. A mix is
    never short: `to_mix` is what is missing of it. `on_order` is everything that is still to come, whenever.
    """

    material: Material
    needed: int
    stock: StockFigures
    on_order: int = 0
    short: int = 0
    to_mix: int = 0

    @property
    def never_runs_out(self) -> bool:
        return self.material.is_free

    @property
    def held(self) -> int | None:
        """What is usable in stock; None for what never runs out."""
        return None if self.never_runs_out else self.stock.held

    @property
    def available(self) -> int | None:
        return None if self.never_runs_out else self.stock.at_least_nothing

    @property
    def from_stock(self) -> int:
        """What of it is taken off the shelf."""
        return self.needed - self.to_mix

    @property
    def reserved(self) -> int:
        return self.stock.reserved

    @property
    def due(self) -> int:
        return self.stock.due

    @property
    def expired(self) -> int:
        """What is in stock and was left out, being past its day."""
        return self.stock.expired

    @property
    def too_late(self) -> int:
        """What is on order and comes after the day."""
        return max(self.on_order - self.stock.due, 0)


@dataclass(frozen=True, slots=True)
class Bench:
    """What the studio has and knows, read once for a set. `shelf` is what may be taken."""

    materials: dict[int, Material]
    versions: dict[int, RecipeVersion]
    recipes: dict[int, mixing.Recipe]
    figures: Mapping[int, StockFigures]
    coming: dict[int, int]
    shelf: Shelf

    @classmethod
    def read(
        cls,
        named: Iterable[Material],
        on: date,
        *,
        figures: Mapping[int, StockFigures] | None,
        include_expired: bool,
        fixed: Mapping[int, RecipeVersion] = NO_VERSIONS,
    ) -> "Bench":
        """`named` are the set's own colours and surfaces. Without figures, all that is usable on the day is free.

        What is mixed by a `fixed` version (by the material it makes) counts as ready only where it was mixed by that.
        """
        versions = {**latest_versions(), **fixed}
        parts = [part.material for version in versions.values() for part in version.parts.all()]
        made = [version.recipe.makes for version in versions.values()]
        materials = {material.pk: material for material in (*parts, *made, *named)}
        recipes = {pk: plain_recipe(version) for pk, version in versions.items()}
        if figures is None:
            figures = _all_that_is_usable(on, include_expired)
        if fixed:
            figures = _of_versions(figures, fixed, on, include_expired)
        free: dict[int, int | None] = {pk: None for pk, material in materials.items() if material.is_free}
        available = {pk: each.at_least_nothing for pk, each in figures.items()}
        return cls(
            materials=materials,
            versions=versions,
            recipes=recipes,
            figures=figures,
            coming=on_order(),
            shelf=Shelf({**available, **free}, recipes),
        )

    @property
    def names(self) -> dict[int, str]:
        return {pk: material.name for pk, material in self.materials.items()}

    @property
    def usable(self) -> dict[int, int]:
        """What may be taken of each mix that is held."""
        return {pk: held for pk in self.recipes if (held := self.shelf.held.get(pk))}

    def need(self, pk: int, quantity: int, excess: Fraction | None) -> Need:
        material, stock = self.materials[pk], self.figures.get(pk, NOTHING)
        short = max(ceil(excess), quantity - stock.at_least_nothing) if excess else 0
        return Need(material, quantity, stock, on_order=self.coming.get(pk, 0), short=short)

    def made(self, pk: int, expansion: mixing.Expansion) -> Need:
        """A mix of the set: what of it is needed, held, and to be mixed."""
        to_mix = expansion.to_mix.get(pk, 0)
        needed = expansion.from_stock.get(pk, 0) + to_mix
        stock = self.figures.get(pk, NOTHING)
        return Need(self.materials[pk], needed, stock, on_order=self.coming.get(pk, 0), to_mix=to_mix)


def _all_that_is_usable(on: date, include_expired: bool) -> dict[int, StockFigures]:
    usable, expired = usable_and_expired(on)
    if include_expired:
        usable, expired = usable + expired, Counter()
    return {
        pk: StockFigures(held=usable[pk], available=usable[pk], expired=expired[pk])
        for pk in {*usable, *expired}
    }


def _of_versions(
    figures: Mapping[int, StockFigures], fixed: Mapping[int, RecipeVersion], on: date, include_expired: bool
) -> Mapping[int, StockFigures]:
    """The figures with no more of each mix than was mixed by its version: two queries."""
    by_version = lots_by_version(fixed.values())
    held = {lot.lot: lot for lot in held_lots(lots=set().union(*by_version.values()))}
    limited = dict(figures)
    for material, version in fixed.items():
        lots = [held[pk] for pk in by_version[version.pk] if pk in held]
        ready = sum(lot.quantity for lot in lots if include_expired or lot.is_usable_on(on))
        now = figures.get(material, NOTHING)
        limited[material] = replace(now, held=min(now.held, ready), available=min(now.available, ready))
    return limited


def cost_now(
    expansion: mixing.Expansion, materials: Mapping[int, Material]
) -> tuple[int, tuple[Material, ...]]:
    """What a set costs in materials as they would be drawn now, and what could not be counted."""
    taken = {**expansion.bought, **expansion.from_stock}
    costs = draw_costs(materials[pk] for pk in taken)
    known = sum(costs.of(pk, quantity) for pk, quantity in taken.items() if pk in costs)
    return known, tuple(materials[pk] for pk in taken if pk not in costs)
