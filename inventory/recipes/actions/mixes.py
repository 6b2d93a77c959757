"""What is mixed: ingredients leave the shelf into a cup, and the cup becomes a lot of its own."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from inventory.errors import InventoryError, UnknownDensity, day_in_words
from inventory.ledger.accounts import mix_account
from inventory.ledger.models import Lot
from inventory.ledger.posting import Moves
from inventory.materials.models import Material
from inventory.recipes.models import Mix, RecipeVersion
from inventory.recipes.queries import amounts_of
from studio.errors import InputError
from studio.translation import _, noop
from studio.values.allocation import divide_half_up
from studio.values.quantities import DENSITY_SCALE, mass_of, volume_of
from studio.values.units import Measure

# What a material is measured by, inside a sentence.
MEASURED_BY = (noop("volume"), noop("mass"), noop("count"), noop("area"), noop("length"))


@dataclass(frozen=True, slots=True)
class Ingredient:
    """So much of one material, in thousandths of its own base unit, from one lot if she chose it.

    `estimate` is what was typed where it was judged by eye: "3 drops".
    """

    material: Material
    quantity: int
    lot: int | None = None
    estimate: str = ""


@dataclass(frozen=True, slots=True)
class MixFacts:
    """A batch as it was mixed.

    `measured` overrides the sum of the ingredients, in the made material's base unit. In the correction of a session
    `mix` is the recorded mix that these facts are about; without it, one is added. Raises InputError naming the
    field for an empty or nonsensical batch, InventoryError where a density is missing.
    """

    version: RecipeVersion
    ingredients: Sequence[Ingredient]
    leftover: str = Mix.Leftover.KEPT
    measured: int | None = None
    use_by: date | None = None
    place: str = ""
    consistency: str = ""
    mix: Mix | None = None

    def __post_init__(self) -> None:
        makes = self.version.recipe.makes
        if not self.ingredients or any(item.quantity <= 0 for item in self.ingredients):
            raise InputError(
                _("{name}: every ingredient needs an amount above zero.", name=makes), field="ingredients"
            )
        if any(item.material.pk == makes.pk for item in self.ingredients):
            raise InputError(
                _("{name} cannot be an ingredient of itself. Choose another material.", name=makes),
                field="ingredients",
            )
        if yield_of(self) <= 0:
            raise InputError(_("{name}: a mix needs an amount above zero.", name=makes), field="measured")


def planned(version: RecipeVersion, quantity: int) -> list[Ingredient]:
    """What a wanted quantity of the mix takes of each part, each in its own measure."""
    return [
        Ingredient(material, amount.counted_by(Measure(material.measure)))
        for material, amount in amounts_of(version, quantity)
    ]


def in_measure(material: Material, quantity: int, measure: Measure) -> int:
    """Convert a quantity of a material to volume or mass by its density.

    Raises InventoryError naming the material without one.
    """
    own = Measure(material.measure)
    if own == measure:
        return quantity
    if {own, measure} != {Measure.VOLUME, Measure.MASS}:
        raise InventoryError(
            _(
                "{name} is measured by {own}, so it cannot go in a mix measured by {other}.",
                name=material,
                own=_(own.value),
                other=_(measure.value),
            )
        )
    density = known_density(material)
    return volume_of(quantity, density) if measure == Measure.VOLUME else mass_of(quantity, density)


def known_density(material: Material) -> int:
    """A material's density in µg/mL. Raises UnknownDensity naming one without."""
    if material.density is None:
        raise UnknownDensity(material.pk, material)
    return material.density


def density_of(facts: MixFacts) -> int:
    """Density of that very batch in µg/mL: masses add up, and so are volumes taken to, unless the whole was measured.

    Raises InventoryError naming an ingredient without a density.
    """
    is_measured = facts.version.recipe.makes.measure == Measure.VOLUME
    return blend_of(facts.ingredients, volume=facts.measured if is_measured else None)


def blend_of(ingredients: Sequence[Ingredient], *, volume: int | None = None) -> int:
    """Density of ingredients together in µg/mL, in their own volumes or in that which was measured.

    Raises InventoryError naming one without a density.
    """
    mass = total_of(ingredients, Measure.MASS)
    return divide_half_up(mass * DENSITY_SCALE, volume or total_of(ingredients, Measure.VOLUME) or 1)


def yield_of(facts: MixFacts) -> int:
    """What the batch comes to in the made material's measure: as measured, or the sum of what went in."""
    return facts.measured or total_of(facts.ingredients, Measure(facts.version.recipe.makes.measure))


def total_of(ingredients: Iterable[Ingredient], measure: Measure) -> int:
    """What ingredients come to together in one measure. Raises InventoryError where a density is missing."""
    return sum(in_measure(item.material, item.quantity, measure) for item in ingredients)


def most_given(facts: MixFacts) -> int:
    """The most that a batch can come to in the made material's measure: its ingredients, by volume or else by mass.

    Raises InventoryError naming the material whose density is missing for either.
    """
    makes = facts.version.recipe.makes
    own = Measure(makes.measure)
    try:
        return total_of(facts.ingredients, own)
    except InventoryError:
        if own == Measure.VOLUME and makes.density:
            return volume_of(total_of(facts.ingredients, Measure.MASS), makes.density)
        if own == Measure.MASS and makes.density:
            return mass_of(total_of(facts.ingredients, Measure.VOLUME), makes.density)
        raise


def water_in(ingredients: Iterable[Ingredient]) -> int:
    """Added water in a batch as mixed, in millionths by volume; zero where volumes are not known."""
    volumes = []
    for item in ingredients:
        if item.material.measure != Measure.VOLUME and item.material.density is None:
            return 0
        volumes.append((in_measure(item.material, item.quantity, Measure.VOLUME), item.material.water_share))
    total = sum(volume for volume, _ in volumes)
    return sum(volume * share for volume, share in volumes) // total if total else 0


def estimates_of(facts: MixFacts) -> dict[str, dict[str, str | int]]:
    """What of a batch was judged by eye, as its row keeps it: by material, what was typed and what it was read as."""
    return {
        str(item.material.pk): {"typed": item.estimate, "quantity": item.quantity}
        for item in facts.ingredients
        if item.estimate
    }


def prepare(facts: MixFacts, on: date) -> Lot:
    """The lot a batch becomes, not yet saved. Raises InputError for a use-by date before it was mixed."""
    makes = facts.version.recipe.makes
    if facts.use_by is not None and facts.use_by < on:
        raise InputError(_("Use {day} or a later day.", day=day_in_words(on)), field="use_by")
    keeps = makes.keeps_days
    return Lot(
        material=makes,
        origin=Lot.Origin.MIX,
        received_on=on,
        opened_on=on,
        place=facts.place,
        best_before=facts.use_by or (on + timedelta(days=keeps) if keeps else None),
    )


def stir(draft: Moves, mix: Mix, facts: MixFacts) -> None:
    """Draw the ingredients into the cup, and turn the cup into the mix's lot with all their cost."""
    cost = 0
    for item in facts.ingredients:
        cost += draft.draw(item.material, item.quantity, mix_account(mix.pk), chosen=item.lot)
    draft.receive(mix.lot, quantity=yield_of(facts), money=cost, source=mix_account(mix.pk))
