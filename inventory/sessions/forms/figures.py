"""What stands under each row of a session while it is typed: its cost, and what the shelf holds afterwards.

Rows that are not finished yet are passed over; nothing is posted, and nobody is told off for what is still to come.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date
from itertools import islice

from inventory.materials.models import Material
from inventory.recipes.actions.mixes import Ingredient, yield_of
from inventory.recipes.forms.cups import CupForm
from inventory.sessions.actions.sessions import PourFacts, SessionFacts
from inventory.sessions.forms.draft import SessionDraft
from inventory.sessions.queries.rehearsal import Rehearsal, rehearse
from studio.errors import InputError, MeniscusError
from studio.preferences.formatting import Formatter
from studio.translation import _
from studio.values.money import share_to_minor


@dataclass(frozen=True, slots=True)
class RowFigures:
    """One cup, or one row of alike pours. Money is in millionths; no cost while something of it is short.

    The rows of pours break the materials of the session down, so their costs are rounded to add up to that.
    """

    cost: int | None
    afterwards: str
    short: list[str]
    each: int | None = None
    made: int = 0
    measure: str = ""
    left_over: str = ""


def show_figures(draft: SessionDraft, *, today: date) -> None:
    """Put figures under the rows of a draft that is still being typed, and complain of nothing else."""
    try:
        _work_out(draft, today)
    except MeniscusError as refusal:
        draft.problem = str(refusal)
    draft.hide_errors()


def _work_out(draft: SessionDraft, today: date) -> None:
    rows, problem = draft.pours_by_row, ""
    try:
        facts = draft.facts_with([pour for _row, pours in rows for pour in pours], on=today)
    except InputError as refusal:
        # The cups have figures even while the pours do not fit them.
        rows, problem = [], str(refusal)
        facts = draft.facts_with([], on=today)
    set_aside = _set_aside(draft, facts)
    if not (facts.mixes or facts.pours or set_aside):
        return
    draft.rehearsal, draft.problem = rehearse(facts, set_aside=set_aside), problem
    figures = _FigureReader(facts, draft.rehearsal, draft.form.formatter)
    mixed = [cup for cup in draft.cups.forms if cup.facts is not None]
    for cup in draft.cups.forms:
        cup.figures = figures.of_cup(cup, mixed)
    costs = iter(draft.rehearsal.pours)
    by_row = [sum(islice(costs, len(pours))) for _row, pours in rows]
    shown = share_to_minor(by_row, draft.form_choices.studio.currency)
    for (row, pours), exact, cost in zip(rows, by_row, shown, strict=True):
        row.figures = figures.of_pours(pours, cost, each=exact // len(pours))


def _set_aside(draft: SessionDraft, facts: SessionFacts) -> list[Ingredient]:
    """Cups that are filled from the shelf, and that no row pours from yet."""
    poured = {dose.material for pour in facts.pours for dose in pour.doses}
    return [
        Ingredient(cup.ready, cup.amount, cup.lot)
        for cup in draft.cups.forms
        if cup.ready is not None and cup.amount and cup.ready not in poured
    ]


@dataclass(frozen=True, slots=True)
class _FigureReader:
    """Reads the figures of each row off the rehearsal."""

    facts: SessionFacts
    rehearsal: Rehearsal
    formatter: Formatter

    def of_cup(self, cup: CupForm, mixed: Sequence[CupForm]) -> RowFigures | None:
        if cup.facts is not None:
            position, makes = mixed.index(cup), cup.facts.version.recipe.makes
            left = self.rehearsal.leftovers[position]
            row = self._row(self.rehearsal.mixes[position], [item.material for item in cup.facts.ingredients])
            left_over = self.formatter.short_quantity(left, makes.measure) if left else ""
            return replace(row, made=yield_of(cup.facts), measure=makes.measure, left_over=left_over)
        if cup.ready is not None and cup.ready.pk in self.rehearsal.straight:
            return self._row(self.rehearsal.straight[cup.ready.pk], [cup.ready])
        return None

    def of_pours(self, pours: Sequence[PourFacts], cost: int, *, each: int) -> RowFigures:
        """A row of alike pours. Only its surface is named, but its cost is known only if all behind it is there."""
        surfaces = [pour.surface for pour in pours if pour.surface is not None][:1]
        is_known = not self._behind(pours) & self.rehearsal.short.keys()
        row = self._row(cost if is_known else None, surfaces)
        return replace(row, each=each if row.cost is not None and len(pours) > 1 else None)

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
        """What is left of these materials, and what is short of them."""
        left, short = [], []
        for item in {material.pk: material for material in materials if not material.is_free}.values():
            lacking = self.rehearsal.short.get(item.pk)
            amount = self.rehearsal.left.get(item.pk, 0) if lacking is None else lacking
            words = self.formatter.short_quantity(amount, item.measure)
            if lacking is None:
                left.append(f"{words} {item.name}")
            else:
                short.append(_("{material}: {amount} short", material=item.name, amount=words))
        return RowFigures(None if short else cost, ", ".join(left), short)
