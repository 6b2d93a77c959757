"""Mixes that were not mixed as their recipe says: "3 : 1 instead of 2 : 1"."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from django.db.models import Prefetch

from inventory.errors import InventoryError
from inventory.ledger.models import Entry
from inventory.recipes.actions.mixes import Ingredient
from inventory.recipes.filling import Instrument
from inventory.recipes.models import Mix, RecipePart
from inventory.recipes.proportions import as_written, mixed_as
from inventory.recipes.queries import plain_recipe
from inventory.recipes.ratio_parts import written_number
from studio.preferences.formatting import decimal_comma
from studio.preferences.models import Studio
from studio.translation import _

# What must be read along with mixes, so that looking at many of them takes no more queries.
READ_ALONG = (
    "version__recipe__makes",
    Prefetch("version__parts", RecipePart.objects.select_related("material")),
    Prefetch("entries", Entry.objects.order_by()),
)


@dataclass(frozen=True, slots=True)
class OffRecipe:
    """The proportions in which a cup was mixed, and those of its recipe, of these materials in their order."""

    mixed: str
    recipe: str
    materials: Sequence[str]

    @property
    def words(self) -> str:
        return _("{mixed} instead of {recipe}", mixed=self.mixed, recipe=self.recipe)

    @property
    def order(self) -> str:
        return " : ".join(self.materials)


def off_recipe(mix: Mix, studio: Studio) -> OffRecipe | None:
    """How a mix is off its recipe; None where it is not, by what can be measured out, and where nobody can tell.

    What was added to that cup alone is no part of its recipe, so it does not count. Read many mixes with READ_ALONG.
    """
    parts = list(mix.version.parts.all())
    used = Counter[int]()
    for entry in mix.entries.all():
        used[entry.material_id] += entry.quantity
    try:
        one_unit = plain_recipe(mix.version).ingredients
        steps = _steps(parts, studio)
    except InventoryError:
        return None
    shares = [part.parts for part in parts]
    mixed = mixed_as(
        shares,
        [one_unit[part.material_id] for part in parts],
        [max(used[part.material_id], 0) for part in parts],
        steps,
    )
    if mixed is None:
        return None

    def written(numbers: Sequence[int]) -> str:
        comma = decimal_comma(studio.locale)
        return " : ".join(written_number(number, decimal_comma=comma) for number in numbers)

    largest = max(shares)
    return OffRecipe(
        written(as_written(mixed, largest=largest)),
        written(as_written(shares, largest=largest)),
        [part.material.name for part in parts],
    )


def _steps(parts: Sequence[RecipePart], studio: Studio) -> list[int]:
    """What the studio's scale or measuring cup can tell of each part, in the part's own measure."""
    items = [Ingredient(part.material, part.parts) for part in parts]
    instrument = Instrument.for_parts(items, studio)
    return [instrument.in_own_measure(item, instrument.step) for item in items]
