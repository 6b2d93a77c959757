"""A cup while it is filled: what its scale or measuring cup showed so far, and how to go on from there.

Quantities are thousandths: of a g or a mL on the instrument, of each material's own base unit off it.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from inventory.errors import InventoryError
from inventory.recipes import measuring
from inventory.recipes.actions.mixes import Ingredient, in_measure, known_density
from inventory.recipes.measuring import Correction, Limits
from studio.preferences.models import MeasuresBy, Studio
from studio.values.quantities import mass_of, volume_of
from studio.values.units import Measure


@dataclass(frozen=True, slots=True)
class Instrument:
    """The scale (g) or the measuring cup (mL) that a cup is filled by, and the step that it can tell."""

    measure: Measure
    step: int

    @classmethod
    def for_parts(cls, parts: Sequence[Ingredient], studio: Studio) -> "Instrument":
        """The one that the studio prefers; the other where a missing density rules that out. Raises InventoryError."""
        scale, cup = cls(Measure.MASS, studio.scale_step), cls(Measure.VOLUME, studio.measuring_step)
        first, second = (scale, cup) if studio.measures_by == MeasuresBy.WEIGHT else (cup, scale)
        try:
            first.amounts(parts)
        except InventoryError:
            second.amounts(parts)
            return second
        return first

    def amounts(self, parts: Sequence[Ingredient]) -> list[int]:
        """Parts as the instrument measures them. Raises InventoryError naming one without a density."""
        return [in_measure(item.material, item.quantity, self.measure) for item in parts]

    def in_own_measure(self, part: Ingredient, amount: int) -> int:
        """An amount on the instrument in the measure of a part's material."""
        own = part.material.measure
        if own == self.measure:
            return amount
        density = known_density(part.material)
        return volume_of(amount, density) if own == Measure.VOLUME else mass_of(amount, density)


@dataclass(frozen=True, slots=True)
class Filling:
    """A cup of so much of each part, planned, in pouring order, and what of it is in the cup."""

    parts: Sequence[Ingredient]
    instrument: Instrument
    planned: Sequence[int]
    in_cup: Sequence[int]
    empty: int = 0

    @classmethod
    def shown(
        cls, parts: Sequence[Ingredient], shows: Sequence[int | None], *, studio: Studio, empty: int = 0
    ) -> "Filling":
        """By what was shown after each part. Raises InventoryError, and InputError for readings that fall."""
        instrument = Instrument.for_parts(parts, studio)
        planned = instrument.amounts(parts)
        return cls(parts, instrument, planned, measuring.contents_by(planned, shows, empty=empty), empty)

    @property
    def before(self) -> int:
        """What is shown now, before anything is put right."""
        step = self.instrument.step
        return measuring.to_step(self.empty, step) + measuring.to_step(sum(self.in_cup), step)

    @property
    def is_near_enough(self) -> bool:
        """Whether everything in the cup is as planned, to 2 % or a step."""
        pairs = zip(self.planned, self.in_cup, strict=True)
        step = self.instrument.step
        return all(not has or measuring.is_near_enough(part, has, step) for part, has in pairs)

    @property
    def next(self) -> Correction:
        """How to go on: as planned while it is near enough, else by the least that brings the proportions back."""
        way = measuring.carried_on if self.is_near_enough else measuring.corrected
        return way(self.planned, self.in_cup, self.instrument.step, empty=self.empty)

    def ways_within(self, limits: Limits) -> list[Correction]:
        """Where shelf or cup are too small for that: add what there is; or pour some off and stay in proportion."""
        if measuring.is_within(self.next, limits):
            return []
        ways = (measuring.with_what_there_is, measuring.after_pouring_off)
        step = self.instrument.step
        return [way(self.planned, self.in_cup, step, limits=limits, empty=self.empty) for way in ways]

    def used(self, correction: Correction) -> list[Ingredient]:
        """What a correction takes of each part in all, poured off or not."""
        return self._in_own(
            [has + reading.amount for has, reading in zip(self.in_cup, correction.added, strict=True)]
        )

    def contents(self, correction: Correction) -> list[Ingredient]:
        """What is in the cup after a correction."""
        return self._in_own(correction.contents)

    def _in_own(self, amounts: Sequence[int]) -> list[Ingredient]:
        return [
            Ingredient(part.material, self.instrument.in_own_measure(part, amount), part.lot)
            for part, amount in zip(self.parts, amounts, strict=True)
        ]
