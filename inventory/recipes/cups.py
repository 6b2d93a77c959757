"""What goes in each cup: volumes, masses, and what one scale, never reset, shows after each part."""

from dataclasses import dataclass

from inventory.materials.models import Material
from inventory.recipes import calculations as mixing
from inventory.recipes.actions.mixes import plain_parts
from inventory.recipes.actions.recipes import water_share_of
from inventory.recipes.models import RecipeVersion
from studio.values.units import Measure


@dataclass(frozen=True, slots=True)
class CupPart:
    """One part of a cup in thousandths of a mL and of a g; `reading` is the scale's running total. None: no density."""

    material: Material
    volume: int | None
    mass: int | None
    reading: int | None


@dataclass(frozen=True, slots=True)
class Cup:
    """One mix: so much to mix and so much already there, in thousandths of the made material's base unit.

    `water_share` (millionths) counts the water inside home-made medium.
    """

    material: Material
    version: RecipeVersion
    to_mix: int
    from_stock: int
    parts: tuple[CupPart, ...]
    water_share: int

    @property
    def total(self) -> int:
        return self.to_mix + self.from_stock

    @property
    def is_too_watery(self) -> bool:
        return mixing.is_too_watery(self.water_share)


def cup_of(
    made: Material, version: RecipeVersion, *, to_mix: int, from_stock: int = 0, scale_step: int = 100
) -> Cup:
    """Split a quantity of a recipe over its parts, in the order written. Raises DensityNeededError, MixingError."""
    parts, basis = plain_parts(version), mixing.Basis(version.basis)
    amounts: list[mixing.Amount] = []
    readings: list[int] | None = None
    if to_mix:
        total = mixing.total_in_basis(to_mix, Measure(made.measure), parts, basis)
        amounts = mixing.amounts_for(total, parts, basis)
    if all(amount.mass is not None for amount in amounts):
        readings = mixing.running_totals(amounts, scale_step)
    materials = {part.material_id: part.material for part in version.parts.all()}
    return Cup(
        material=made,
        version=version,
        to_mix=to_mix,
        from_stock=from_stock,
        parts=tuple(
            CupPart(
                materials[amount.material], amount.volume, amount.mass, readings[index] if readings else None
            )
            for index, amount in enumerate(amounts)
        ),
        water_share=water_share_of(parts, basis),
    )
