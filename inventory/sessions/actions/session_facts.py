"""A session as somebody says that it happened: plain facts, before anything is written."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date

from inventory.errors import InventoryError
from inventory.materials.models import Material
from inventory.recipes.actions import mixes
from inventory.recipes.actions.mixes import Ingredient, MixFacts
from inventory.sessions.models import Pour, Technique
from studio.translation import _
from studio.values.units import Measure


@dataclass(frozen=True, slots=True)
class Dose:
    """Paint poured onto a surface: from a mix of this session (by its position) or straight from the shelf."""

    quantity: int
    mix: int | None = None
    material: Material | None = None
    lot: int | None = None


@dataclass(frozen=True, slots=True)
class PourFacts:
    """One surface poured. `over` is a failed pour that this one covers: its surface is not charged again."""

    technique: Technique
    doses: Sequence[Dose]
    surface: Material | None = None
    surface_lot: int | None = None
    over: Pour | None = None
    run_off: int | None = None
    outcome: str = Pour.Outcome.GOOD
    arm: str = ""
    notes: str = ""


@dataclass(frozen=True, slots=True)
class SessionFacts:
    """A session as it happened. Quantities are thousandths of each material's base unit."""

    held_on: date
    mixes: Sequence[MixFacts] = ()
    pours: Sequence[PourFacts] = ()
    sundries: Sequence[Ingredient] = ()
    minutes: int = 0
    title: str = ""
    temperature: int | None = None
    humidity: int | None = None
    notes: str = ""


def poured_volume(item: PourFacts, facts: SessionFacts) -> int:
    return sum(
        mixes.in_measure(material_of(dose, facts), dose.quantity, Measure.VOLUME) for dose in item.doses
    )


def material_of(dose: Dose, facts: SessionFacts) -> Material:
    if dose.mix is not None:
        return facts.mixes[dose.mix].version.recipe.makes
    if dose.material is None:
        raise InventoryError(_("Say for every amount poured which mix or material it came from."))
    return dose.material


def materials_of(facts: SessionFacts) -> Iterator[Material]:
    for mix in facts.mixes:
        yield mix.version.recipe.makes
        yield from (item.material for item in mix.ingredients)
    for pour in facts.pours:
        if pour.surface is not None:
            yield pour.surface
        yield from (dose.material for dose in pour.doses if dose.material is not None)
    yield from (item.material for item in facts.sundries)
