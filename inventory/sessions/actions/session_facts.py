"""A session as somebody says that it happened: plain facts, before anything is written."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date

from inventory.errors import InventoryError
from inventory.materials.models import Material
from inventory.recipes.actions import mixes
from inventory.recipes.actions.mixes import Ingredient, MixFacts
from inventory.sessions.models import Pour, Technique
from studio.constraints import LARGEST
from studio.errors import InputError, refuse_all
from studio.translation import _
from studio.values.quantities import format_quantity
from studio.values.sizes import Size
from studio.values.units import Measure


@dataclass(frozen=True, slots=True)
class Dose:
    """Paint poured onto a surface: from a mix of this session (by its position) or straight from the shelf.

    Raises InputError naming the field.
    """

    quantity: int
    mix: int | None = None
    material: Material | None = None
    lot: int | None = None

    def __post_init__(self) -> None:
        if (self.mix is None) == (self.material is None):
            raise InputError(
                _("For every amount poured, choose either the mix or the material it came from."), field="mix"
            )
        if self.lot is not None and self.material is None:
            raise InputError(_("A lot can be chosen only for a material from stock."), field="lot")
        if self.quantity <= 0:
            raise InputError(_("The amount poured must be above zero."), field="quantity")


@dataclass(frozen=True, slots=True)
class PourFacts:
    """One surface poured. `over` is a failed pour that this one covers: its surface is not charged again.

    Raises InputError naming the field.
    """

    technique: Technique
    doses: Sequence[Dose]
    surface: Material | None = None
    surface_lot: int | None = None
    over: Pour | None = None
    run_off: int | None = None
    outcome: str = Pour.Outcome.GOOD
    arm: str = ""
    notes: str = ""

    def __post_init__(self) -> None:
        if (self.surface is None) == (self.over is None):
            raise InputError(
                _("Choose either a surface or the failed pour that this one covers."), field="surface"
            )
        if not self.doses:
            raise InputError(_("Enter how much was poured, above zero for each colour."), field="doses")
        if self.over is not None and self.over.outcome != Pour.Outcome.FAILED:
            raise InputError(
                _(
                    "{failed} is not marked as failed. Mark it as failed before pouring over it.",
                    failed=self.over,
                ),
                field="over",
            )
        if self.surface is not None:
            area_of(self.surface)

    @property
    def covered(self) -> tuple[Material, int]:
        """The surface that is covered, and its area: its own, or that of the failed pour beneath."""
        if self.over is not None:
            return self.over.surface, self.over.area
        if self.surface is None:
            raise InputError(_("Choose a surface, or the failed pour that this one covers."), field="surface")
        return self.surface, area_of(self.surface)


@dataclass(frozen=True, slots=True)
class SessionFacts:
    """A session as it happened. Quantities are thousandths of each material's base unit.

    Raises InputError with everything that is wrong, by its line of `mixes`, `pours` or `sundries`.
    """

    held_on: date
    mixes: Sequence[MixFacts] = ()
    pours: Sequence[PourFacts] = ()
    sundries: Sequence[Ingredient] = ()
    minutes: int = 0
    title: str = ""
    temperature: int | None = None
    humidity: int | None = None
    notes: str = ""

    def __post_init__(self) -> None:
        if self.sundries and not self.pours:
            raise InputError(
                _(
                    "Sundries are charged to the pours of a session, and this one has none. "
                    "Write them off instead."
                ),
                field="sundries",
            )
        refuse_all(
            problem.on_line(line, rows=rows)
            for rows, check in (("sundries", self._about_sundry), ("pours", self._about_pour))
            for line, item in enumerate(getattr(self, rows), start=1)
            for problem in check(item)
        )
        # Only doses that name a mix of this session can be added up.
        refuse_all(
            problem.on_line(line, rows="mixes")
            for line in range(1, len(self.mixes) + 1)
            for problem in self._about_mix(line - 1)
        )

    def _about_sundry(self, item: Ingredient) -> list[InputError]:
        too_little = _("Every sundry needs an amount above zero.")
        return [] if item.quantity > 0 else [InputError(too_little, field="quantity")]

    def _about_pour(self, pour: PourFacts) -> list[InputError]:
        if any(dose.mix is not None and not 0 <= dose.mix < len(self.mixes) for dose in pour.doses):
            return [InputError(_("It names a mix that this session does not have."), field="doses")]
        try:
            poured = poured_volume(pour, self)
        except InventoryError as problem:
            return [InputError(str(problem), field="doses")]
        problems = []
        if poured > LARGEST:
            too_much = _("That number is too large. Check the amounts.")
            problems.append(InputError(too_much, field="doses"))
        if pour.run_off is not None and not 0 <= pour.run_off <= poured:
            no_part = _("Run-off is part of what was poured, so it cannot be more than that.")
            problems.append(InputError(no_part, field="run_off"))
        if pour.over is not None and sum(other.over == pour.over for other in self.pours) > 1:
            twice = _("{failed} can be poured over once only.", failed=pour.over)
            problems.append(InputError(twice, field="over"))
        return problems

    def _about_mix(self, position: int) -> list[InputError]:
        """A mix of which the pours take more than was mixed."""
        mix = self.mixes[position]
        poured = sum(dose.quantity for pour in self.pours for dose in pour.doses if dose.mix == position)
        made, makes = mixes.yield_of(mix), mix.version.recipe.makes
        if poured <= made:
            return []
        overpoured = _(
            "{name}: the pours take {poured} but only {made} was mixed. Correct the amounts mixed or poured.",
            name=makes,
            poured=format_quantity(poured, Measure(makes.measure)),
            made=format_quantity(made, Measure(makes.measure)),
        )
        return [InputError(overpoured, field="ingredients")]


def area_of(surface: Material) -> int:
    """Area a pour covers, in thousandths of a cm²: the face, and the sides where they are painted.

    Raises InputError for a surface without a size.
    """
    if surface.height is None or surface.width is None:
        raise InputError(
            _("{surface} has no size. Enter its height and width first.", surface=surface), field="surface"
        )
    size = Size(surface.height, surface.width, surface.depth, surface.is_round)
    return size.surface_area(painted_sides=surface.sides_painted and bool(surface.depth))


def poured_volume(pour: PourFacts, facts: SessionFacts) -> int:
    """What was poured on one surface, in thousandths of a mL. Raises InventoryError where a density is missing."""
    return sum(
        mixes.in_measure(_material_of(dose, facts), dose.quantity, Measure.VOLUME) for dose in pour.doses
    )


def _material_of(dose: Dose, facts: SessionFacts) -> Material:
    if dose.material is not None:
        return dose.material
    return facts.mixes[dose.mix or 0].version.recipe.makes


def materials_of(facts: SessionFacts) -> Iterator[Material]:
    for mix in facts.mixes:
        yield mix.version.recipe.makes
        yield from (item.material for item in mix.ingredients)
    for pour in facts.pours:
        if pour.surface is not None:
            yield pour.surface
        yield from (dose.material for dose in pour.doses if dose.material is not None)
    yield from (item.material for item in facts.sundries)
