"""Parts into cups: splitting, weighing, rescaling and expanding recipes, in thousandths of mL or g.

Volumes are taken to add up on mixing (from memory: they barely shrink).
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction
from functools import reduce
from graphlib import CycleError, TopologicalSorter

from inventory.errors import InventoryError
from studio.translation import _
from studio.values.allocation import MILLION, allocate, divide_half_up
from studio.values.quantities import mass_of, volume_of
from studio.values.units import Measure

ONE_PART = 1000  # parts are kept in thousandths


def exceeds(measured: int, given: int, *, tolerance: int) -> bool:
    """Whether a measured yield is more than its ingredients give, beyond what measuring may be off (millionths)."""
    return measured * MILLION > given * (MILLION + tolerance)


class Basis(StrEnum):
    """What a recipe's parts are measured by."""

    VOLUME = "volume"
    MASS = "mass"


class MixingError(InventoryError):
    """Raised when a recipe cannot be mixed as written: no parts, a part given twice, or a wrong amount."""


class DensityNeededError(MixingError):
    """Raised when a volume must become a mass, or a mass a volume, and the density is not known."""

    def __init__(self, material: int) -> None:
        super().__init__(
            _("One of the materials has no density. Weigh a measured sample of it and enter g/mL.")
        )
        self.material = material


class RecipeCycleError(MixingError):
    """Raised when a recipe needs itself, directly or through other recipes."""

    def __init__(self, path: Sequence[int], names: Mapping[int, str]) -> None:
        last, *before = [
            names.get(material, _("material {number}", number=material)) for material in reversed(path)
        ]
        circle = reduce(
            lambda needed, material: _("{material} needs {needed}", material=material, needed=needed),
            before,
            last,
        )
        super().__init__(
            _(
                "These recipes refer to each other: {circle}. Remove one of them from the other.",
                circle=circle,
            )
        )
        self.path = tuple(path)


@dataclass(frozen=True, slots=True)
class Part:
    """One material of a recipe: parts on any whole-number scale common to the recipe.

    Density is in micrograms per mL, measure says how the material is counted on the shelf, and water_share
    is how much of it is water, in millionths.
    """

    material: int
    parts: int
    density: int | None = None
    measure: Measure = Measure.VOLUME
    water_share: int = 0

    def __post_init__(self) -> None:
        if self.parts <= 0:
            raise MixingError(_("Every part of a recipe must be above zero. Leave out what is not used."))
        if self.density is not None and self.density <= 0:
            raise MixingError(_("A density must be above zero, in grams per millilitre."))
        if self.measure not in (Measure.VOLUME, Measure.MASS):
            raise MixingError(_("Only materials measured by volume or by mass can be part of a mix."))
        if not 0 <= self.water_share <= MILLION:
            raise MixingError(_("The water in a material must be from 0 to 100%."))


@dataclass(frozen=True, slots=True)
class Amount:
    """How much of one part goes in: volume in thousandths of a mL, mass in thousandths of a g, if known."""

    material: int
    volume: int | None
    mass: int | None

    def counted_by(self, measure: Measure) -> int:
        """Return the amount in the shelf's measure; raises DensityNeededError when it is not known."""
        amount = self.volume if measure == Measure.VOLUME else self.mass
        if amount is None:
            raise DensityNeededError(self.material)
        return amount


@dataclass(frozen=True, slots=True)
class Recipe:
    """What a made material is mixed from; measure says how the made material is counted."""

    parts: tuple[Part, ...]
    basis: Basis = Basis.VOLUME
    measure: Measure = Measure.VOLUME

    @property
    def density(self) -> int | None:
        """Density of the mix in µg/mL, rounded half up: masses and volumes both add up. None while one is missing."""
        known = [(part.parts, part.density) for part in self.parts if part.density is not None]
        if len(known) < len(self.parts):
            return None
        whole = sum(share for share, _density in known)
        if self.basis is Basis.VOLUME:
            return divide_half_up(sum(share * density for share, density in known), whole)
        exact = whole / sum((Fraction(share, density) for share, density in known), Fraction(0))
        return divide_half_up(exact.numerator, exact.denominator)

    @property
    def water_share(self) -> int:
        """Added water by volume, in millionths; by the recipe's own basis while a density is missing."""
        shares = [part.parts for part in self.parts]
        if self.basis is Basis.MASS and all(part.density for part in self.parts):
            shares = [divide_half_up(part.parts * 10**9, part.density or 1) for part in self.parts]
        return water_share(self.parts, shares)

    @property
    def ingredients(self) -> dict[int, Fraction]:
        """What one unit of the mix takes of each ingredient, both in their own measure, exactly.

        Raises DensityNeededError, and MixingError for a recipe without parts.
        """
        _check(self.parts)
        per_unit = Fraction(1)  # of the recipe's own basis
        if self.measure != self.basis.value:
            weights = [(part.parts, Fraction(_density(part), MILLION)) for part in self.parts]
            by_volume = self.basis is Basis.VOLUME
            other = sum(share * density if by_volume else share / density for share, density in weights)
            per_unit = Fraction(sum(part.parts for part in self.parts)) / other
        whole = sum(part.parts for part in self.parts)
        return {part.material: per_unit * part.parts / whole * self._turned(part) for part in self.parts}

    def _turned(self, part: Part) -> Fraction:
        """What one unit of the basis is in the measure of a part."""
        if part.measure == self.basis.value:
            return Fraction(1)
        density = Fraction(_density(part), MILLION)
        return density if self.basis is Basis.VOLUME else 1 / density


@dataclass(frozen=True, slots=True)
class Expansion:
    """What a plan comes to, by material: bought goods needed, made stock to take, and what to mix."""

    bought: dict[int, int]
    from_stock: dict[int, int]
    to_mix: dict[int, int]


def amounts_for(total: int, parts: Sequence[Part], basis: Basis) -> list[Amount]:
    """Split a total, in the recipe's own basis, over its parts by largest remainder.

    By volume the volumes add up to the total exactly, by mass the masses do; the other figure follows from
    the density and is None without one. Raises MixingError for an unusable recipe or a negative total.
    """
    _check(parts)
    if total < 0:
        raise MixingError(_("A mix cannot be below zero. Enter the quantity you want to make."))
    shares = allocate(total, [part.parts for part in parts])
    return [_amount(part, quantity, basis) for part, quantity in zip(parts, shares, strict=True)]


def total_in_basis(wanted: int, measure: Measure, parts: Sequence[Part], basis: Basis) -> int:
    """Turn a wanted volume or mass of the mix into a total in the recipe's own basis, rounded half up.

    Raises DensityNeededError when the two differ and a part has no density.
    """
    _check(parts)
    if measure == basis.value:
        return wanted
    densities = [_density(part) for part in parts]
    if basis is Basis.VOLUME:
        mixed_mass = sum(part.parts * density for part, density in zip(parts, densities, strict=True))
        return divide_half_up(wanted * MILLION * sum(part.parts for part in parts), mixed_mass)
    volumes = [Fraction(part.parts, density) for part, density in zip(parts, densities, strict=True)]
    total = Fraction(wanted * sum(part.parts for part in parts), MILLION) / sum(volumes)
    return divide_half_up(total.numerator, total.denominator)


def water_share(parts: Sequence[Part], amounts: Sequence[int]) -> int:
    """Return how much of a mix is water, in millionths, counting the water inside home-made medium.

    Amounts are in the recipe's basis, part by part, as planned or as poured. Raises MixingError for an
    empty mix.
    """
    _check(parts)
    if len(parts) != len(amounts) or sum(amounts) <= 0:
        raise MixingError(_("Enter how much of every part goes in: the mix is empty."))
    water = sum(part.water_share * amount for part, amount in zip(parts, amounts, strict=True))
    return divide_half_up(water, sum(amounts))


def expand(
    wanted: Mapping[int, int],
    recipes: Mapping[int, Recipe],
    made_stock: Mapping[int, int] | None = None,
    names: Mapping[int, str] | None = None,
) -> Expansion:
    """Expand wanted quantities through nested recipes to bought materials, using already-made stock first.

    Every quantity is in its material's own measure. A material is expanded only once everything that needs
    it has been, so stock is spent on the whole need. Raises RecipeCycleError with the path named, and
    DensityNeededError.
    """
    need = dict(wanted)
    result = Expansion({}, {}, {})
    for material in users_first(wanted, recipes, names or {}):
        quantity = need.get(material, 0)
        if material not in recipes:
            _put(result.bought, material, quantity)
            continue
        taken = min(quantity, (made_stock or {}).get(material, 0))
        _put(result.from_stock, material, taken)
        _put(result.to_mix, material, quantity - taken)
        for ingredient, amount in _ingredients(recipes[material], quantity - taken):
            need[ingredient] = need.get(ingredient, 0) + amount
    return result


def _ingredients(recipe: Recipe, quantity: int) -> list[tuple[int, int]]:
    """Return what one made quantity needs, each ingredient in its own measure."""
    if not quantity:
        return []
    total = total_in_basis(quantity, recipe.measure, recipe.parts, recipe.basis)
    amounts = amounts_for(total, recipe.parts, recipe.basis)
    return [
        (part.material, amount.counted_by(part.measure))
        for part, amount in zip(recipe.parts, amounts, strict=True)
    ]


def _put(heap: dict[int, int], material: int, quantity: int) -> None:
    if quantity:
        heap[material] = quantity


def users_first(wanted: Iterable[int], recipes: Mapping[int, Recipe], names: Mapping[int, str]) -> list[int]:
    """Order everything the wanted materials lead to so that each comes after all that need it.

    Raises RecipeCycleError with the path named.
    """
    ingredients: dict[int, list[int]] = {}
    waiting = list(wanted)
    while waiting:
        material = waiting.pop()
        if material not in ingredients:
            parts = recipes[material].parts if material in recipes else ()
            ingredients[material] = [part.material for part in parts]
            waiting.extend(ingredients[material])
    try:
        return list(TopologicalSorter(ingredients).static_order())[::-1]
    except CycleError as circle:
        # graphlib tells the circle from ingredient to user; the other way round it reads as a sentence.
        raise RecipeCycleError(circle.args[1][::-1], names) from None


def _check(parts: Sequence[Part]) -> None:
    if not parts:
        raise MixingError(_("This recipe has no parts yet. Add at least one."))
    if len({part.material for part in parts}) < len(parts):
        raise MixingError(_("A material appears twice in this recipe. Add its parts together on one line."))


def _density(part: Part) -> int:
    if part.density is None:
        raise DensityNeededError(part.material)
    return part.density


def _amount(part: Part, quantity: int, basis: Basis) -> Amount:
    density = part.density
    if basis is Basis.VOLUME:
        return Amount(part.material, quantity, None if density is None else mass_of(quantity, density))
    return Amount(part.material, None if density is None else volume_of(quantity, density), quantity)
