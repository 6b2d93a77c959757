"""What was done at the bench, logged as the session of its plan."""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import date

from inventory.bench.calculations import Taken, Tally, Touch, from_jar_and_mix, tally
from inventory.materials.models import Material
from inventory.plans.actions import pour_plan
from inventory.plans.models import Plan
from inventory.recipes.actions.mixes import Ingredient, MixFacts, yield_of
from inventory.recipes.models import Mix, RecipeVersion
from inventory.sessions.actions.sessions import Dose, PourFacts, SessionFacts
from inventory.sessions.models import Pour, Session, Technique
from studio.errors import InputError
from studio.submission import Submission
from studio.translation import _


@dataclass(frozen=True, slots=True)
class CupWork:
    """What stood in a cup: mixed by a version from its ingredients, and so much that came from a jar or a bottle."""

    material: Material
    version: RecipeVersion | None = None
    ingredients: Sequence[Ingredient] = ()
    ready: int = 0
    lot: int | None = None

    def __post_init__(self) -> None:
        if self.version is None and not self.ready:
            raise InputError(_("Say what is in this cup: a mix, or how much from stock."), field="ready")
        if self.version is not None and self.version.recipe.makes_id != self.material.pk:
            raise InputError(
                _("This recipe makes something else. Choose a recipe for this cup."), field="version"
            )


@dataclass(frozen=True, slots=True)
class LineWork:
    """Surfaces alike, and what each takes of the cups: (cup from 0, thousandths of its contents' own measure)."""

    surface: Material
    technique: Technique
    count: int
    doses: Sequence[tuple[int, int]]
    arm: str = ""
    surface_lot: int | None = None


@dataclass(frozen=True, slots=True)
class BenchFacts:
    """A bench as it was worked through: what its document said, and what was touched, in that order.

    Raises InputError naming the touch, cup or line that cannot be.
    """

    held_on: date
    cups: Sequence[CupWork]
    lines: Sequence[LineWork]
    touches: Sequence[Touch]
    leftover: str = Mix.Leftover.KEPT
    minutes: int = 0
    session: SessionFacts = field(init=False)

    def __post_init__(self) -> None:
        for number, line in enumerate(self.lines, start=1):
            if any(not 0 <= cup < len(self.cups) for cup, _quantity in line.doses):
                raise InputError(
                    _("There is no such cup on this bench. Reload the page."),
                    field="doses",
                    line=number,
                    rows="lines",
                )
        object.__setattr__(self, "session", _Facts(self).session())


class _Facts:
    """Turns touches into the facts of a session."""

    def __init__(self, work: BenchFacts) -> None:
        self.work = work
        self.mixes = {
            place: MixFacts(cup.version, cup.ingredients, leftover=work.leftover)
            for place, cup in enumerate(work.cups)
            if cup.version is not None
        }
        self.positions = {place: position for position, place in enumerate(self.mixes)}
        self.surfaces = [line for line in work.lines for _each in range(line.count)]

    def session(self) -> SessionFacts:
        held = [
            cup.ready + (yield_of(self.mixes[place]) if place in self.mixes else 0)
            for place, cup in enumerate(self.work.cups)
        ]
        result = tally(held, [dict(line.doses) for line in self.surfaces], self.work.touches)
        taken, spills = self._doses(result)
        return SessionFacts(
            held_on=self.work.held_on,
            mixes=list(self.mixes.values()),
            pours=[self._pour(each, doses) for each, doses in zip(result.taken, taken, strict=True)],
            minutes=self.work.minutes,
            spills=spills,
        )

    def _pour(self, taken: Taken, doses: Sequence[Dose]) -> PourFacts:
        line = self.surfaces[taken.pour]
        outcome = Pour.Outcome.FAILED if taken.is_failed else Pour.Outcome.OPEN
        return PourFacts(
            line.technique,
            doses,
            surface=line.surface,
            surface_lot=line.surface_lot,
            outcome=outcome,
            arm=line.arm,
        )

    def _doses(self, result: Tally) -> tuple[list[list[Dose]], list[Dose]]:
        """What each surface took, and what was spilled, out of jars and mixes."""
        taken: list[list[Dose]] = [[] for _each in result.taken]
        spills: list[Dose] = []
        for place, cup in enumerate(self.work.cups):
            takers = [number for number, each in enumerate(result.taken) if place in each.doses]
            amounts = [result.taken[number].doses[place] for number in takers]
            if place in result.spilled:
                amounts.append(result.spilled[place])
            ready = cup.ready if place in self.mixes else sum(amounts)
            targets = [*(taken[number] for number in takers), spills]
            for target, (from_jar, from_mix) in zip(targets, from_jar_and_mix(amounts, ready), strict=False):
                if from_jar:
                    target.append(Dose(from_jar, material=cup.material, lot=cup.lot))
                if from_mix:
                    target.append(Dose(from_mix, mix=self.positions[place]))
        return taken, spills


def log_bench(
    *, plan: Plan, facts: BenchFacts, submission: Submission, confirm_gain: bool = False
) -> Session:
    """Log what was done as the session of the plan, in one posting under the submission's key.

    Raises what pour_plan raises: AlreadyPoured, NotEnough, NeedsConfirmation, KeyReused.
    """
    session = replace(facts.session, title=plan.name)
    return pour_plan(plan=plan, facts=session, submission=submission, confirm_gain=confirm_gain)
