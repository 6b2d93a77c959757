"""Pours made once more: what was and what has changed since as one document, and the plan that she makes of it."""

from collections import Counter
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from inventory.errors import InventoryError
from inventory.ledger.models import Lot
from inventory.ledger.posting import open_ledger
from inventory.materials.models import Material, MeasureChoice
from inventory.plans.actions import PlanFacts, PlanLineFacts, new_plan
from inventory.plans.models import Plan
from inventory.plans.queries import figures_for
from inventory.plans.repeating.changes import (
    AMOUNTS,
    NOW,
    THEN,
    Change,
    ChangeKind,
    Now,
    as_then_or_now,
    field_of,
    try_out,
)
from inventory.plans.repeating.poured_then import PouredThen, poured_then
from inventory.recipes.models import RecipeVersion
from inventory.sessions.models import Pour
from inventory.sessions.queries.planning import Colour, SetLine, SetPlan
from studio.errors import InputError
from studio.preferences.formatting import Formatter
from studio.preferences.models import Studio
from studio.submission import Submission
from studio.translation import _
from studio.values.quantities import volume_of
from studio.values.units import Measure

MOST_POURS = 200
Choices = Mapping[str, str]
NO_CHOICES: Choices = {}


@dataclass(frozen=True, slots=True)
class RepeatedLine:
    """Pours that were alike to the thousandth: the volume of each colour on each of them."""

    pours: Sequence[Pour]
    volumes: Mapping[Material, int]

    @property
    def first(self) -> Pour:
        return self.pours[0]

    @property
    def count(self) -> int:
        return len(self.pours)


@dataclass(frozen=True, slots=True)
class ThenAndNow:
    """Some pours as they were made, and every change since. `problem` says why it is not known whether they can be."""

    then: PouredThen
    now: Now
    lines: Sequence[RepeatedLine]
    changes: Sequence[Change]
    problem: str

    @property
    def versions(self) -> list[RecipeVersion]:
        return [versions[0] for versions in self.then.versions.values()]

    @property
    def lots(self) -> list[Lot]:
        """Those that can be taken again."""
        lots = (self.now.lot_of(material) for material in self.then.lots)
        return [lot for lot in lots if lot is not None]

    @property
    def lot_labels(self) -> list[str]:
        return [lot.label for lot in self.lots]

    @property
    def notes(self) -> list[str]:
        """What cannot be planned, and is worth knowing."""
        notes = [
            _("{recipe}: {version} was used as well, for less of it.", recipe=other.recipe, version=other)
            for versions in self.then.versions.values()
            for other in versions[1:]
        ]
        for session in self.then.sessions:
            weather = [f"{session.temperature} °C"] if session.temperature is not None else []
            weather += (
                [_("{share}% humidity", share=session.humidity)] if session.humidity is not None else []
            )
            if weather:
                notes.append(f"{session}: {', '.join(weather)}.")
        return notes


def pours_to_repeat(*, session: int | None = None, numbers: Sequence[int] = ()) -> list[Pour]:
    """The pours of a session, or these, whose sessions stand; one more than can be repeated at most."""
    pours = Pour.objects.standing().poured_here().select_related("session__posting", "surface", "technique")
    chosen = pours.filter(pk__in=numbers) if session is None else pours.filter(session=session)
    return list(chosen.order_by("session__held_on", "session", "number")[: MOST_POURS + 1])


def then_and_now(pours: Sequence[Pour], *, studio: Studio, today: date) -> ThenAndNow:
    """What was, and what has changed since. Raises InventoryError for no pours, or more than one plan can hold."""
    if not 0 < len(pours) <= MOST_POURS:
        raise InventoryError(_("Choose from 1 to {most} pours that were not reversed.", most=MOST_POURS))
    then = poured_then(pours)
    lines = list(_alike(then))
    formatter = Formatter.of(studio)
    now = Now.read(then, formatter, today)
    found = [
        *now.recipes(),
        *now.departures(),
        *now.lots(),
        *now.surfaces(),
        *now.densities(),
        *now.techniques(),
    ]
    document = ThenAndNow(then, now, lines, found, "")
    plan = _as_set(repeat_facts(document, name="-", on=today), studio)
    figures = figures_for(plan, on=today, today=today)
    answer, problem = try_out(plan, on=today, figures=figures)
    if answer is not None:
        poured = {material.pk for line in lines for material in line.volumes}
        found += now.missing(plan, answer, poured)
        usual, _problem = try_out(
            _as_set(repeat_facts(document, name="-", on=today, choices={AMOUNTS: NOW}), studio),
            on=today,
            figures=figures,
        )
        amounts = [sum(need.paint for need in each.lines) for each in (answer, usual) if each is not None]
        found += _amounts(amounts, formatter)
    found += now.archived({change.name for change in found})
    found.sort(key=lambda change: (not change.is_gone, not change.options))
    return ThenAndNow(then, now, lines, found, problem)


def _amounts(totals: Sequence[int], formatter: Formatter) -> Iterator[Change]:
    """Paint as it was poured, beside what the techniques usually take by now, extra paint included."""
    if len(set(totals)) > 1:
        then, now = (formatter.short_quantity(total, Measure.VOLUME) for total in totals)
        yield Change(
            AMOUNTS,
            ChangeKind.AMOUNT,
            _("Paint in all"),
            then,
            _("{amount}: the techniques' usual paint, with extra", amount=now),
            as_then_or_now(),
        )


def _alike(then: PouredThen) -> Iterator[RepeatedLine]:
    keeps_arms = len({pour.arm for pour in then.pours}) > 1
    groups: dict[tuple[object, ...], list[Pour]] = {}
    for pour in then.pours:
        if then.paint[pour.pk]:
            arm = pour.arm if keeps_arms else ""
            paint = tuple(sorted(then.paint[pour.pk].items()))
            key = (pour.surface_id, pour.technique_id, arm, pour.poured, paint)
            groups.setdefault(key, []).append(pour)
    for pours in groups.values():
        paint_of = then.paint[pours[0].pk].items()
        yield RepeatedLine(
            pours, {then.materials[pk]: _volume(then.materials[pk], amount) for pk, amount in paint_of}
        )


def _volume(material: Material, amount: int) -> int:
    if material.measure == MeasureChoice.MASS and material.density:
        return volume_of(amount, material.density)
    return amount


def repeat_facts(
    document: ThenAndNow, *, name: str, on: date, choices: Choices = NO_CHOICES, notes: str = ""
) -> PlanFacts:
    """The plan for a day, by what she chose; what she does not say stays as it was. Raises InputError."""
    as_usual = choices.get(AMOUNTS) == NOW
    others = Material.objects.in_bulk(
        [int(value) for name, value in choices.items() if name.startswith("material-") and value != THEN]
    )
    keeps_arms = len({line.first.arm for line in document.lines}) > 1
    lines = []
    for line in document.lines:
        volumes = Counter[Material]()
        for material, volume in line.volumes.items():
            volumes[_replaced(material, choices, others)] += volume
        lines.append(
            PlanLineFacts(
                surface=_replaced(line.first.surface, choices, others),
                count=line.count,
                technique=line.first.technique,
                colours=list(volumes.items()),
                arm=line.first.arm if keeps_arms else "",
                poured=None if as_usual else line.first.poured,
            )
        )
    versions = {
        material: used[0]
        for material, used in document.then.versions.items()
        if choices.get(field_of("version", material)) != NOW
    }
    needed = _needed(document, lines, versions)
    expired = _expired(document, choices, needed)
    usable = (document.now.lot_of(material) for material in document.then.lots if material in needed)
    return PlanFacts(
        name=name,
        planned_on=on,
        lines=lines,
        extra_paint=None if as_usual else 0,
        include_expired=bool(expired),
        notes=notes,
        versions=[version for material, version in versions.items() if material in needed],
        lots=[*(lot for lot in usable if lot is not None), *expired],
    )


def repeat_pours(
    *, pours: Sequence[Pour], name: str, on: date, submission: Submission, choices: Choices = NO_CHOICES
) -> Plan:
    """Plan these pours once more for a day, as they were made or as she chose. Sent again it is the first one's plan.

    Raises InputError for a choice that is not offered, and what saving a plan raises.
    """
    numbers = [pour.pk for pour in pours]
    with open_ledger(submission, facts=["repeat", numbers, name, on, dict(choices)]) as ledger:
        earlier = ledger.earlier_record(Plan)
        if earlier is not None:
            return earlier
        document = then_and_now(pours, studio=Studio.current(), today=submission.today)
        made_of = ", ".join(dict.fromkeys(pour.label for pour in pours))
        notes = _("As it was poured: {pours}", pours=made_of)
        facts = repeat_facts(document, name=name, on=on, choices=_chosen(document, choices), notes=notes)
        return new_plan(facts, ledger)


def _chosen(document: ThenAndNow, choices: Choices) -> Choices:
    """What was chosen, and the default of everything else. Raises InputError for what is not offered."""
    offered = {change.name: {option.value for option in change.options} for change in document.changes}
    for field, value in choices.items():
        if value not in offered.get(field, ()):
            raise InputError(
                _("“{name}: {value}” cannot be chosen.", name=field, value=value), field="choices"
            )
    return {change.name: change.options[0].value for change in document.changes if change.options} | dict(
        choices
    )


def _replaced(material: Material, choices: Choices, others: Mapping[int, Material]) -> Material:
    value = choices.get(field_of("material", material.pk), THEN)
    return material if value == THEN else others[int(value)]


def _needed(
    document: ThenAndNow, lines: Sequence[PlanLineFacts], versions: Mapping[int, RecipeVersion]
) -> set[int]:
    """All that the plan leads to: its surfaces, its colours, and what these are mixed from."""
    known = {**document.now.in_force, **versions}
    needed: set[int] = set()
    waiting = [line.surface.pk for line in lines] + [
        each.pk for line in lines for each, _share in line.colours
    ]
    while waiting:
        material = waiting.pop()
        if material not in needed:
            needed.add(material)
            waiting += [part.material_id for part in known[material].parts.all()] if material in known else []
    return needed


def _expired(document: ThenAndNow, choices: Choices, needed: Collection[int]) -> list[Lot]:
    """Expired lots that were chosen to be used."""
    chosen = [
        document.now.expired_lot_of(material)
        for material in document.then.lots
        if material in needed and choices.get(field_of("lot", material)) == THEN
    ]
    return [lot for lot in chosen if lot is not None]


def _as_set(facts: PlanFacts, studio: Studio) -> SetPlan:
    return SetPlan(
        lines=[
            SetLine(
                line.surface,
                line.count,
                line.technique,
                [Colour(*colour) for colour in line.colours],
                line.arm,
                line.poured,
            )
            for line in facts.lines
        ],
        reserve=studio.reserve if facts.extra_paint is None else facts.extra_paint,
        include_expired=facts.include_expired,
        versions={version.recipe.makes_id: version for version in facts.versions},
    )
