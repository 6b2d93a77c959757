"""What stands under each row of a session while it is typed: its cost, and what the shelf holds afterwards.

Rows that are not finished yet are passed over; nothing is posted, and nobody is told off for what is still to come.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from itertools import islice
from typing import Any

from inventory.ledger import posting as ledger
from inventory.materials.models import Material
from inventory.recipes.actions.mixes import Ingredient, yield_of
from inventory.recipes.forms.cups import CupForm
from inventory.sessions.actions.sessions import PourFacts, SessionFacts, refuse_overpoured
from inventory.sessions.forms.pours import PourForm
from inventory.sessions.forms.sessions import SessionSheet
from inventory.sessions.queries.rehearsal import Rehearsal, rehearse
from studio.errors import MeniscusError
from studio.preferences.formatting import Formatter
from studio.translation import _


@dataclass(frozen=True, slots=True)
class RowFigures:
    """One cup, or one row of alike pours. Money is in millionths; no cost while something of it is short."""

    cost: int | None
    afterwards: str
    short: list[str]
    each: int | None = None
    made: int = 0
    measure: str = ""
    left_over: str = ""


@dataclass(slots=True)
class SheetFigures:
    """The whole session."""

    in_pours: int = 0
    kept: int = 0
    thrown_away: int = 0
    shortfalls: list[str] = field(default_factory=list)
    problem: str = ""


@dataclass(slots=True)
class _Sketch:
    """As much of the session as can be read so far."""

    sheet: SessionSheet
    on: date
    rows: list[tuple[PourForm, list[PourFacts]]]
    problem: str = ""

    @property
    def mixed(self) -> list[CupForm]:
        return [cup for cup in self.sheet.cups.forms if cup.facts is not None]

    @property
    def facts(self) -> SessionFacts:
        pours = [pour for _row, found in self.rows for pour in found]
        used = [
            row.item for row in self.sheet.sundries.forms if row.item is not None and not _is_removed(row)
        ]
        return SessionFacts(
            held_on=self.on,
            mixes=[cup.facts for cup in self.sheet.cups.forms if cup.facts is not None],
            pours=pours,
            sundries=used if pours else [],
        )

    @property
    def set_aside(self) -> list[Ingredient]:
        """Cups that are filled from the shelf, and that no row pours from yet."""
        poured = {dose.material for _row, found in self.rows for pour in found for dose in pour.doses}
        return [
            Ingredient(cup.ready, cup.amount, cup.lot)
            for cup in self.sheet.cups.forms
            if cup.ready is not None and cup.amount and cup.ready not in poured
        ]


def show_figures(sheet: SessionSheet, *, sketched: SessionSheet, today: date) -> None:
    """Put figures under the rows of a sheet; `sketched` is the same session, bound to what was sent."""
    sketch = _read(sketched, today)
    try:
        facts, set_aside = sketch.facts, sketch.set_aside
        if not (facts.mixes or facts.pours or set_aside):
            return
        teller = _Teller(facts, rehearse(facts, set_aside=set_aside), sheet.form.formatter)
    except MeniscusError as problem:
        sheet.figures = SheetFigures(problem=str(problem))
        return
    sheet.figures = teller.of_all(sketch.problem)
    for place, cup in zip(sheet.cups.forms, sketched.cups.forms, strict=False):
        place.figures = teller.of_cup(cup, sketch.mixed)
    costs = iter(teller.found.pours)
    told = {id(row): teller.of_pours(pours, list(islice(costs, len(pours)))) for row, pours in sketch.rows}
    for place, row in zip(sheet.pours.forms, sketched.pours.forms, strict=False):
        place.figures = told.get(id(row))


def _read(sheet: SessionSheet, today: date) -> _Sketch:
    for each in (sheet.form, sheet.cups, sheet.pours, sheet.sundries):
        each.is_valid()
    rows = [(row, _pours(row, sheet.cups.forms)) for row in sheet.pours.forms if not _is_removed(row)]
    sketch = _Sketch(sheet, sheet.form.cleaned_data.get("held_on") or today, [row for row in rows if row[1]])
    try:
        refuse_overpoured(sketch.facts)
    except MeniscusError as problem:
        sketch.problem, sketch.rows = str(problem), []
    return sketch


def _pours(row: PourForm, cups: Sequence[CupForm]) -> list[PourFacts]:
    """The pours of a row; none as long as it is not finished."""
    if row.errors or not row.has_changed():
        return []
    try:
        pours = row.pours(cups)
    except MeniscusError:
        return []
    return [] if row.errors or not all(pour.doses for pour in pours) else pours


def _is_removed(row: Any) -> bool:
    return bool(row.cleaned_data.get("DELETE"))


@dataclass(frozen=True, slots=True)
class _Teller:
    """Says of each row what was found out about it."""

    facts: SessionFacts
    found: Rehearsal
    formatter: Formatter

    def of_all(self, problem: str) -> SheetFigures:
        lacking = [ledger.describe_shortfall(item) for item in self.found.shortfalls]
        return SheetFigures(self.found.in_pours, self.found.kept, self.found.thrown_away, lacking, problem)

    def of_cup(self, cup: CupForm, mixed: Sequence[CupForm]) -> RowFigures | None:
        if cup.facts is not None:
            position, makes = mixed.index(cup), cup.facts.version.recipe.makes
            rest = self.found.rests[position]
            row = self._row(self.found.mixes[position], [item.material for item in cup.facts.ingredients])
            left_over = self.formatter.short_quantity(rest, makes.measure) if rest else ""
            return replace(row, made=yield_of(cup.facts), measure=makes.measure, left_over=left_over)
        if cup.ready is not None and cup.ready.pk in self.found.straight:
            return self._row(self.found.straight[cup.ready.pk], [cup.ready])
        return None

    def of_pours(self, pours: Sequence[PourFacts], costs: Sequence[int]) -> RowFigures:
        """A row of alike pours. Only its surface is named, but its cost is known only if all behind it is there."""
        surfaces = [pour.surface for pour in pours if pour.surface is not None][:1]
        is_known = not self._behind(pours) & self.found.short.keys()
        row = self._row(sum(costs) if is_known else None, surfaces)
        each = row.cost // len(costs) if row.cost is not None and len(costs) > 1 else None
        return replace(row, each=each)

    def _behind(self, pours: Sequence[PourFacts]) -> set[int]:
        """Everything that is charged to these pours."""
        behind = {item.material.pk for item in self.facts.sundries}
        for pour in pours:
            behind |= {pour.surface.pk} if pour.surface is not None else set()
            for dose in pour.doses:
                behind |= {dose.material.pk} if dose.material is not None else set()
                mixed = self.facts.mixes[dose.mix].ingredients if dose.mix is not None else ()
                behind |= {item.material.pk for item in mixed}
        return behind

    def _row(self, cost: int | None, materials: Iterable[Material]) -> RowFigures:
        there = {item.pk: item for item in materials if not item.is_free}
        short = [item for pk, item in there.items() if pk in self.found.short]
        left = [
            f"{self.formatter.short_quantity(self.found.left.get(pk, 0), item.measure)} {item.name}"
            for pk, item in there.items()
            if pk not in self.found.short
        ]
        return RowFigures(None if short else cost, ", ".join(left), [self._lacking(item) for item in short])

    def _lacking(self, material: Material) -> str:
        amount = self.formatter.short_quantity(self.found.short[material.pk], material.measure)
        return _("{material}: {amount} short", material=material.name, amount=amount)
