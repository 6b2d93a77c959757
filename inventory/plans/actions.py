"""Writers for plans: kept, changed, copied, and poured as a session."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from inventory.errors import InventoryError
from inventory.ledger.models import Lot
from inventory.ledger.posting import LockedLedger, open_ledger
from inventory.materials.models import Kind, Material
from inventory.plans.models import (
    LINES,
    MOST_ON_A_LINE,
    SOURCES,
    Plan,
    PlanColour,
    PlanLine,
    PlannedMaterial,
    PlanSource,
)
from inventory.plans.queries import Promises, answer_of
from inventory.recipes.actions.recipes import MIXABLE
from inventory.recipes.models import Mix, RecipeVersion
from inventory.sessions.actions.sessions import SessionFacts, log_session
from inventory.sessions.models import Session, Technique
from studio.auditing.edit_conflicts import lock_row, refuse_stale
from studio.auditing.recording import record_change
from studio.auditing.writing import create_all
from studio.constraints import LARGEST
from studio.errors import InputError, MeniscusError, refuse_all
from studio.submission import Submission
from studio.translation import _
from studio.values.allocation import MILLION


class AlreadyPoured(InventoryError):
    """Raised when a plan whose session stands would be changed, or poured once more."""

    is_conflict = True


@dataclass(frozen=True, slots=True)
class PlanLineFacts:
    """So many of one surface by one technique, in colours of its own. Raises InputError naming the field.

    `poured` goes on each, in thousandths of a mL; without it, what the technique usually takes.
    """

    surface: Material
    count: int
    technique: Technique
    colours: Sequence[tuple[Material, int]]
    arm: str = ""
    poured: int | None = None

    def __post_init__(self) -> None:
        refuse_all(self._problems())

    def _problems(self) -> list[InputError]:
        problems = []
        if self.surface.kind != Kind.SURFACE:
            problems.append(InputError(_("Choose what you pour on."), field="surface"))
        if not 0 < self.count <= MOST_ON_A_LINE:
            advice = _("Enter a whole number from 1 to {most}.", most=MOST_ON_A_LINE)
            problems.append(InputError(advice, field="count"))
        if self.poured is not None and not 0 < self.poured <= LARGEST:
            problems.append(InputError(_("The amount poured must be above zero."), field="poured"))
        if not self.colours:
            problems.append(InputError(_("Choose at least one colour."), field="colours"))
        for material, share in self.colours:
            if material.measure not in MIXABLE or material.is_free:
                problems.append(
                    InputError(
                        _("{name} cannot be poured. Choose a paint, a medium or a mix.", name=material),
                        field="colours",
                    )
                )
            if not 0 < share <= LARGEST:
                problems.append(InputError(_("Parts must be above zero."), field="colours"))
        if len({material.pk for material, _share in self.colours}) < len(self.colours):
            twice = _("A colour is chosen twice on this line. Add its parts together.")
            problems.append(InputError(twice, field="colours"))
        return problems


@dataclass(frozen=True, slots=True)
class PlanFacts:
    """A set to be poured on a day. Raises InputError with everything that is wrong.

    It keeps to these recipe `versions`, whatever is in force by then, and is taken from these `lots` first.
    """

    name: str
    planned_on: date
    lines: Sequence[PlanLineFacts]
    extra_paint: int | None = None
    include_expired: bool = False
    notes: str = ""
    versions: Sequence[RecipeVersion] = ()
    lots: Sequence[Lot] = ()

    def __post_init__(self) -> None:
        problems = []
        if len({version.recipe_id for version in self.versions}) < len(self.versions):
            problems.append(InputError(_("Choose one version of each recipe."), field="versions"))
        if len({lot.material_id for lot in self.lots}) < len(self.lots):
            problems.append(InputError(_("Choose one lot of each material."), field="lots"))
        if not self.name.strip():
            problems.append(InputError(_("Give the plan a name."), field="name"))
        if not self.lines:
            problems.append(InputError(_("Add at least one surface to the plan."), field="lines"))
        if self.extra_paint is not None and not 0 <= self.extra_paint <= MILLION:
            problems.append(InputError(_("Extra paint is from 0 to 100%."), field="extra_paint"))
        refuse_all(problems)

    @property
    def columns(self) -> dict[str, Any]:
        """What is kept on the plan's own row."""
        names = ("planned_on", "extra_paint", "include_expired", "notes")
        return {"name": self.name.strip(), **{name: getattr(self, name) for name in names}}

    @property
    def sources(self) -> dict[int, dict[str, Any]]:
        """The version and the lot of each material that the plan keeps to."""
        sources: dict[int, dict[str, Any]] = {}
        for version in self.versions:
            sources.setdefault(version.recipe.makes_id, {})["version"] = version
        for lot in self.lots:
            sources.setdefault(lot.material_id, {})["lot"] = lot
        return sources


def save_plan(
    *, facts: PlanFacts, submission: Submission, plan: Plan | None = None, seen: int | None = None
) -> Plan:
    """Keep a plan, or change one. Raises EditConflict when it was changed after `seen`, AlreadyPoured."""
    # What is reserved is decided while nobody draws from the shelf.
    with open_ledger(submission, facts=["plan", facts]) as ledger:
        if plan is None:
            return new_plan(facts, ledger)
        _refuse_unmixed(facts.versions)
        lock_row(plan)
        refuse_stale(plan, seen=seen)
        now = Plan.objects.with_lines().get(pk=plan.pk)
        refuse_poured(now)
        ledger.touch(reserved_materials(submission.on))
        before = _written(now)
        for name, value in facts.columns.items():
            setattr(now, name, value)
        now.save()
        now.lines.all().delete()
        now.sources.all().delete()
        _write_lines(now, facts)
        after = _written(Plan.objects.with_lines().get(pk=now.pk))
        for field, old in before.items():
            if old != after[field]:
                record_change(now, field=field, old=old, new=after[field])
        ledger.touch(reserved_materials(submission.on))
        return now


def reserved_materials(today: date) -> set[int]:
    """What open plans reserve: when one of them changes, others may take another share of what is mixed already."""
    return {pk for each in Promises(today).reservations for pk in each.quantities}


def _refuse_unmixed(versions: Sequence[RecipeVersion]) -> None:
    """A version that was never mixed may still be rewritten, so a plan cannot keep to it."""
    mixed = set(Mix.objects.filter(version__in=versions).values_list("version", flat=True))
    for version in versions:
        if version.pk not in mixed:
            raise InputError(
                _(
                    "{recipe}, {version}, has not been mixed yet and may still change. Leave it out, so that the "
                    "recipe in force is used.",
                    recipe=version.recipe,
                    version=version,
                ),
                field="versions",
            )


def new_plan(facts: PlanFacts, ledger: LockedLedger) -> Plan:
    """Keep a plan for the first time; the same submission sent again gets it back."""
    earlier = ledger.earlier_record(Plan)
    if earlier is not None:
        return earlier
    _refuse_unmixed(facts.versions)
    submission = ledger.submission
    plan = Plan.objects.create(
        **facts.columns, recorded_by=submission.by, key=submission.key, fingerprint=ledger.fingerprint
    )
    _write_lines(plan, facts)
    ledger.touch(reserved_materials(submission.on))
    return plan


def copy_plan(*, plan: Plan, on: date, submission: Submission) -> Plan:
    """The same set once more, on a day: whatever became of the first."""
    return save_plan(facts=facts_of(plan, on=on), submission=submission)


def facts_of(plan: Plan, *, on: date | None = None) -> PlanFacts:
    """A plan as it is kept, for another day where one is named."""
    return PlanFacts(
        name=plan.name,
        planned_on=on or plan.planned_on,
        lines=[
            PlanLineFacts(
                line.surface,
                line.count,
                line.technique,
                [(colour.material, colour.share) for colour in line.colours.all()],
                line.arm,
                line.poured,
            )
            for line in plan.lines.all()
        ],
        versions=plan.kept_versions,
        lots=plan.kept_lots,
        extra_paint=plan.extra_paint,
        include_expired=plan.include_expired,
        notes=plan.notes,
    )


def pour_plan(
    *, plan: Plan, facts: SessionFacts, submission: Submission, confirm_gain: bool = False
) -> Session:
    """Log the session that a plan became, and keep what the plan said beside it.

    Raises what log_session raises, and AlreadyPoured. What the plan said is told from the shelf before the session.
    """
    with open_ledger(submission) as ledger:
        lock_row(plan)
        now = Plan.objects.with_lines().get(pk=plan.pk)
        if now.session is not None and now.is_poured:
            # The same form sent again gets the first one's session; anything else is refused.
            if not submission.key or now.session.posting.key != submission.key:
                refuse_poured(now)
            session = log_session(facts=facts, submission=submission, confirm_gain=confirm_gain)
            if session.pk != now.session_id:
                refuse_poured(now)
            return session
        ledger.touch(reserved_materials(facts.held_on))
        forecast = _forecast(now, facts.held_on)
        session = log_session(facts=facts, submission=submission, confirm_gain=confirm_gain)
        now.session = session
        now.planned_paint, now.planned_cost, used = forecast
        now.save()
        now.planned_materials.all().delete()
        create_all(
            PlannedMaterial(plan=now, material_id=material, quantity=quantity)
            for material, quantity in used.items()
        )
        return session


def _forecast(plan: Plan, on: date) -> tuple[int | None, int | None, dict[int, int]]:
    """The paint, the cost and the materials that a plan says; nothing of a plan that can no longer be worked out."""
    try:
        answer = answer_of(plan, today=on)
    except MeniscusError:
        return None, None, {}
    needs = [need for need in (*answer.needs, *answer.made) if not need.never_runs_out]
    used = {need.material.pk: need.from_stock for need in needs}
    paint = sum(need.paint for need in answer.lines)
    return paint, answer.cost, {material: quantity for material, quantity in used.items() if quantity > 0}


def refuse_poured(plan: Plan) -> None:
    """Raises AlreadyPoured for a plan whose session stands."""
    if plan.is_poured:
        raise AlreadyPoured(
            _("“{name}” has been poured already. Copy it to pour the same set again.", name=plan)
        )


def _write_lines(plan: Plan, facts: PlanFacts) -> None:
    lines = facts.lines
    rows = create_all(
        PlanLine(
            plan=plan,
            number=number,
            surface=line.surface,
            count=line.count,
            technique=line.technique,
            arm=line.arm,
            poured=line.poured,
        )
        for number, line in enumerate(lines, start=1)
    )
    create_all(
        PlanColour(line=row, number=number, material=material, share=share)
        for row, line in zip(rows, lines, strict=True)
        for number, (material, share) in enumerate(line.colours, start=1)
    )
    create_all(
        PlanSource(plan=plan, material_id=material, **source) for material, source in facts.sources.items()
    )


def _written(plan: Plan) -> dict[str, list[dict[str, Any]]]:
    """What stands beside the plan's own row, for the change log, with the names that everything has today."""
    return {LINES: _lines_of(plan), SOURCES: _sources_of(plan)}


def _sources_of(plan: Plan) -> list[dict[str, Any]]:
    return [
        {
            "material": each.material.name,
            "version": each.version.number if each.version else None,
            "lot": each.lot.label if each.lot else None,
        }
        for each in plan.sources.all()
    ]


def _lines_of(plan: Plan) -> list[dict[str, Any]]:
    return [
        {
            "surface": line.surface.name,
            "count": line.count,
            "technique": line.technique.name,
            "arm": line.arm,
            "poured": line.poured,
            "colours": [[colour.material.name, colour.share] for colour in line.colours.all()],
        }
        for line in plan.lines.all()
    ]
