"""A session as it happened, the writer that logs it in one posting, and what that moves.

Mixes, pours, run-off, leftovers and minutes: all of it or nothing.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from inventory.errors import InventoryError
from inventory.ledger.accounts import disposal, work_in_progress
from inventory.ledger.balances import in_work
from inventory.ledger.models import EntryRole, PostingKind, Reason
from inventory.ledger.posting import Moves, open_ledger
from inventory.materials.models import Material
from inventory.recipes.actions import mixes
from inventory.recipes.actions.mixes import Ingredient, MixFacts
from inventory.recipes.models import Mix
from inventory.sessions.actions.judging import judge_when_logged
from inventory.sessions.actions.spills import draw_dose, spill
from inventory.sessions.actions.weighings import WeighingFacts, add_weighings
from inventory.sessions.models import Pour, Session, Technique
from inventory.sessions.queries.pours import places_over
from inventory.sessions.questions import questions_about_session
from inventory.stock.actions import gains
from studio.auditing.writing import create_all
from studio.constraints import LARGEST
from studio.errors import InputError, refuse_all
from studio.submission import Submission
from studio.translation import _
from studio.values.allocation import allocate
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

    In a correction `pour` is the recorded pour that these facts are about; without it, one is added.
    Raises InputError naming the field.
    """

    technique: Technique
    doses: Sequence[Dose]
    surface: Material | None = None
    surface_lot: int | None = None
    over: Pour | None = None
    run_off: int | None = None
    outcome: str = Pour.Outcome.OPEN
    arm: str = ""
    notes: str = ""
    pour: Pour | None = None

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

    `spills` is paint that never reached a surface. It is lost beyond what is usual, so no pour carries its cost.
    Raises InputError with everything that is wrong, by its line of `mixes`, `pours`, `sundries` or `spills`.
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
    weighings: Sequence[WeighingFacts] = ()
    spills: Sequence[Dose] = ()

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
            for rows, check in (
                ("sundries", self._about_sundry),
                ("pours", self._about_pour),
                ("weighings", self._about_weighing),
                ("spills", self._about_dose),
            )
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

    def _about_weighing(self, weighing: WeighingFacts) -> list[InputError]:
        return weighing.problems(self.weighings, pours=len(self.pours))

    def _about_dose(self, dose: Dose) -> list[InputError]:
        if dose.mix is None or 0 <= dose.mix < len(self.mixes):
            return []
        return [InputError(_("It names a mix that this session does not have."), field="mix")]

    def _about_pour(self, pour: PourFacts) -> list[InputError]:
        if any(self._about_dose(dose) for dose in pour.doses):
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
            twice = _("{failed} can be poured over only once. Choose another failed pour.", failed=pour.over)
            problems.append(InputError(twice, field="over"))
        return problems

    def _about_mix(self, position: int) -> list[InputError]:
        """A mix of which the pours and spills take more than was mixed."""
        mix = self.mixes[position]
        spilled = spilled_of(position, self)
        poured = spilled + sum(
            dose.quantity for pour in self.pours for dose in pour.doses if dose.mix == position
        )
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
    return size_of(surface).surface_area(painted_sides=surface.sides_painted and bool(surface.depth))


def size_of(surface: Material) -> Size:
    """Its height, width and depth. Raises InputError for a surface without a size."""
    if surface.height is None or surface.width is None:
        raise InputError(
            _("{surface} has no size. Enter its height and width first.", surface=surface), field="surface"
        )
    return Size(surface.height, surface.width, surface.depth, surface.is_round)


def poured_volume(pour: PourFacts, facts: SessionFacts) -> int:
    """What was poured on one surface, in thousandths of a mL. Raises InventoryError where a density is missing."""
    return sum(
        mixes.in_measure(_material_of(dose, facts), dose.quantity, Measure.VOLUME) for dose in pour.doses
    )


def _material_of(dose: Dose, facts: SessionFacts) -> Material:
    if dose.material is not None:
        return dose.material
    return facts.mixes[dose.mix or 0].version.recipe.makes


def spilled_of(position: int, facts: SessionFacts) -> int:
    """What was spilled of a mix, by its position."""
    return sum(spill.quantity for spill in facts.spills if spill.mix == position)


def materials_of(facts: SessionFacts) -> Iterator[Material]:
    for mix in facts.mixes:
        yield mix.version.recipe.makes
        yield from (item.material for item in mix.ingredients)
    for pour in facts.pours:
        if pour.surface is not None:
            yield pour.surface
        yield from (dose.material for dose in pour.doses if dose.material is not None)
    yield from (item.material for item in facts.sundries)
    yield from (spill.material for spill in facts.spills if spill.material is not None)


def log_session(*, facts: SessionFacts, submission: Submission, confirm_gain: bool = False) -> Session:
    """Log a session: all of it, or nothing.

    Raises NotEnough with every shortfall, NeedsConfirmation for unusual amounts, InputError for what makes no sense.

    With `confirm_gain` the shelf's shortfalls are first posted as a gain ("the bottle held more than
    the books say").
    """
    with open_ledger(submission, facts=facts) as ledger:
        if ledger.earlier is not None:
            return ledger.earlier.session
        if not facts.mixes and not facts.pours:
            raise InputError(_("A session needs at least one mix or one pour."))
        refuse_covered_before(facts)
        questions = questions_about_session(facts, [poured_volume(pour, facts) for pour in facts.pours])

        def post() -> Session:
            draft = ledger.draft(PostingKind.SESSION, on=facts.held_on, note=facts.title, questions=questions)
            draft.load(materials_of(facts))
            session = _session_row(facts, draft.number)
            batches = add_mixes(facts.mixes, session, draft.number)
            pours = add_pours(facts.pours, facts, session)
            add_weighings(facts.weighings, session, pours)
            move_all(draft, facts, batches, pours)
            draft.seal()
            judge_when_logged(pours, submission)
            return session

        return gains.with_confirmation(post, ledger=ledger, on=facts.held_on, confirm=confirm_gain)


def _session_row(facts: SessionFacts, number: int) -> Session:
    return Session.objects.create(
        held_on=facts.held_on,
        title=facts.title,
        minutes=facts.minutes,
        temperature=facts.temperature,
        humidity=facts.humidity,
        notes=facts.notes,
        posting_id=number,
    )


def add_mixes(made: Sequence[MixFacts], session: Session, posting: int) -> list[Mix]:
    """Rows for mixes of a session, each with the lot that it becomes."""
    lots = create_all(mixes.prepare(item, session.held_on) for item in made)
    return create_all(
        Mix(
            version=item.version,
            session=session,
            mixed_on=session.held_on,
            lot=lot,
            leftover=item.leftover,
            posting_id=posting,
            water_share=mixes.water_in(item.ingredients),
            consistency=item.consistency,
            estimates=mixes.estimates_of(item),
        )
        for item, lot in zip(made, lots, strict=True)
    )


def add_pours(
    poured: Sequence[PourFacts], facts: SessionFacts, session: Session, *, after: int = 0
) -> list[Pour]:
    """Rows for pours of a session, numbered on after those that it has."""
    places = places_over([item.over for item in poured if item.over is not None])
    return create_all(
        Pour(session=session, number=number, **places.get(item.over, {}), **columns_of(item, facts))
        for number, item in enumerate(poured, start=after + 1)
    )


def columns_of(item: PourFacts, facts: SessionFacts) -> dict[str, Any]:
    """What a pour's own row says of it."""
    surface, area = item.covered
    return {
        "surface": surface,
        "over": item.over,
        "technique": item.technique,
        "area": area,
        "poured": poured_volume(item, facts),
        "run_off": item.run_off,
        "outcome": item.outcome,
        "arm": item.arm,
        "notes": item.notes,
    }


def refuse_covered_before(facts: SessionFacts) -> None:
    """Only a failed pour still in unsold work is poured over, and once: its surface is charged to the new pour."""
    for line, pour in enumerate(facts.pours, start=1):
        failed = pour.over
        if failed is None or pour.pour is not None:
            continue
        if Pour.objects.standing().filter(over=failed).exists():
            refusal = _("{failed} has already been poured over.", failed=failed)
        elif not any(any(amounts) for amounts in in_work([failed.pk]).values()):
            refusal = _(
                "{failed} was sold, written off, or its session was reversed. Choose a surface instead.",
                failed=failed,
            )
        else:
            continue
        raise InputError(refusal, field="over", line=line, rows="pours")


def move_all(draft: Moves, facts: SessionFacts, batches: Sequence[Mix], pours: Sequence[Pour]) -> None:
    """Mix, pour, spill, clear the cups and charge the sundries. `batches` and `pours` follow the facts."""
    for mix, mix_facts in zip(batches, facts.mixes, strict=True):
        mixes.stir(draft, mix, mix_facts)
    for pour, pour_facts in zip(pours, facts.pours, strict=True):
        _pour(draft, pour, pour_facts, batches)
    spill(draft, facts.spills, batches)
    _clear_cups(draft, batches, pours, facts)
    _charge_sundries(draft, pours, facts)


def _pour(draft: Moves, pour: Pour, facts: PourFacts, batches: Sequence[Mix]) -> None:
    work = work_in_progress(pour.pk)
    if facts.surface is not None:
        draft.draw(facts.surface, 1000, work, role=EntryRole.SURFACE, chosen=facts.surface_lot)
    for dose in facts.doses:
        draw_dose(draft, dose, work, EntryRole.POURED, batches)


def _clear_cups(draft: Moves, batches: Sequence[Mix], pours: Sequence[Pour], facts: SessionFacts) -> None:
    """What is left of each mix: kept on the shelf, shared over its pours as cup residue, or thrown away as a loss."""
    waste = None
    for position, (mix, mix_facts) in enumerate(zip(batches, facts.mixes, strict=True)):
        doses = [sum(d.quantity for d in pour.doses if d.mix == position) for pour in facts.pours]
        left = mixes.yield_of(mix_facts) - sum(doses) - spilled_of(position, facts)
        if left <= 0 or mix.leftover == Mix.Leftover.KEPT:
            continue
        if mix.leftover == Mix.Leftover.DISCARDED or not any(doses):
            waste = waste or disposal(Reason.objects.get(code="leftover").pk)
            draft.draw(mix.lot.material, left, waste, chosen=mix.lot_id, only=True)
            continue
        for pour, part in zip(pours, allocate(left, doses), strict=True):
            work, lot = work_in_progress(pour.pk), mix.lot
            draft.draw(lot.material, part, work, role=EntryRole.RESIDUE, chosen=lot.pk, only=True)


def _charge_sundries(draft: Moves, pours: Sequence[Pour], facts: SessionFacts) -> None:
    """Gloves, towels and the like belong to every pour of the session alike."""
    for item in facts.sundries:
        for pour, part in zip(pours, allocate(item.quantity, [1] * len(pours)), strict=True):
            draft.draw(item.material, part, work_in_progress(pour.pk), role=EntryRole.SUNDRY, chosen=item.lot)
