"""All forms of the page that puts a session right, and the facts that they come to."""

from collections.abc import Mapping
from typing import Any

from django.http import QueryDict

from inventory.materials.models import Material
from inventory.recipes.actions import mixes
from inventory.sessions.actions.corrections import last_correction
from inventory.sessions.actions.sessions import Dose, PourFacts, SessionFacts
from inventory.sessions.forms.corrections import (
    MOST,
    CorrectSessionForm,
    MixRow,
    Offered,
    PartRow,
    PourRow,
    ShelfRow,
    Source,
    SundryRow,
)
from inventory.sessions.models import Session
from inventory.sessions.queries.recorded import RecordedMix, RecordedPour, recorded_session
from studio.errors import InputError, MeniscusError, refuse_all
from studio.pages.formsets import Rows, rows_of
from studio.preferences.formatting import Formatter
from studio.preferences.models import Studio
from studio.translation import _
from studio.values.quantities import input_text
from studio.values.units import Measure


class RecordedRows(Rows):
    """Rows that open with what is recorded: one left as it came counts as well, and one of `own` facts knows them."""

    def __init__(
        self, *args: Any, recorded: int, own: list[dict[str, Any]] | None = None, **kwargs: Any
    ) -> None:
        self.recorded, self.own = recorded, own
        super().__init__(*args, **kwargs)

    def get_form_kwargs(self, index: int | None) -> dict[str, Any]:
        kwargs = super().get_form_kwargs(index)
        if self.own is not None:
            kwargs |= self.own[index] if index is not None and index < len(self.own) else self.own[-1]
        if index is not None and index < self.recorded:
            kwargs["empty_permitted"] = False
        return kwargs

    @property
    def kept(self) -> list[Any]:
        removed = self.deleted_forms if self.can_delete else []
        return [
            form
            for number, form in enumerate(self.forms)
            if (number < self.recorded or form.has_changed()) and form not in removed
        ]


PartRows = rows_of(PartRow, at_most=MOST, formset=RecordedRows, can_delete=False)
MixRows = rows_of(MixRow, at_most=MOST, formset=RecordedRows)
PourRows = rows_of(PourRow, at_most=MOST, formset=RecordedRows)
ShelfRows = rows_of(ShelfRow, at_most=MOST, can_delete=False)
SundryRows = rows_of(SundryRow, at_most=MOST, formset=RecordedRows, can_delete=False)


class SessionCorrection:
    """The forms, made from what is recorded or from what was sent; `facts` once they are valid."""

    def __init__(self, data: QueryDict | None, *, session: Session, studio: Studio, seen: int) -> None:
        self.session, self.formatter = session, Formatter.of(studio)
        self.recorded = recorded_session(session)
        used = {material for mix in self.recorded.mixes for material in mix.parts}
        used |= {material for pour in self.recorded.pours for material in pour.from_shelf}
        used |= {pour.pour.surface_id for pour in self.recorded.pours} | set(self.recorded.sundries)
        self.offered = Offered(used)
        self.sources = [Source(each.mix.lot.material, each.mix.pk) for each in self.recorded.mixes]
        straight = dict.fromkeys(item for pour in self.recorded.pours for item in pour.from_shelf)
        self.sources += [Source(self.offered.materials[pk]) for pk in straight]
        common = {"studio": studio, "offered": self.offered}
        self.form = CorrectSessionForm(data, studio=studio, initial=self._day(seen))
        parts = [row for each in self.recorded.mixes for row in self._parts(each)]
        spare = [{"mix": each.mix.pk} for each in self.recorded.mixes]
        self.parts = PartRows(
            data, prefix="parts", initial=parts + spare, recorded=len(parts), form_kwargs=common
        )
        self.mixes = MixRows(
            data,
            prefix="mixes",
            initial=[self._mix(each) for each in self.recorded.mixes],
            recorded=len(self.recorded.mixes),
            own=[{"recorded": each} for each in self.recorded.mixes],
            form_kwargs=common,
        )
        pours = self.recorded.pours
        self.pours = PourRows(
            data,
            prefix="pours",
            initial=[self._pour(each) for each in pours],
            spare=1,
            recorded=len(pours),
            own=[*({"recorded": each} for each in pours), {"recorded": None}],
            form_kwargs={**common, "sources": self.sources},
        )
        labels = [(str(each.pour.pk), each.pour.label) for each in pours]
        self._share_out_parts()
        self.shelf = ShelfRows(data, prefix="shelf", spare=1, form_kwargs={**common, "pours": labels})
        sundries = [self._amount(pk, quantity) for pk, quantity in self.recorded.sundries.items() if quantity]
        self.sundries = SundryRows(
            data, prefix="sundries", initial=sundries, spare=1, recorded=len(sundries), form_kwargs=common
        )

    # What the forms open with

    def _day(self, seen: int) -> dict[str, Any]:
        day = {name: getattr(self.session, name) for name in CorrectSessionForm.DAY}
        return day | {"seen": seen, "known": last_correction(self.session)}

    def _typed(self, quantity: int, measure: str) -> str:
        return input_text(quantity, Measure(measure), decimal_comma=self.formatter.decimal_comma)

    def _amount(self, material: int, quantity: int) -> dict[str, Any]:
        measure = self.offered.materials[material].measure
        return {"material": material, "amount": self._typed(quantity, measure)}

    def _parts(self, recorded: RecordedMix) -> list[dict[str, Any]]:
        return [
            {"mix": recorded.mix.pk, **self._amount(material, quantity)}
            for material, quantity in recorded.parts.items()
            if quantity
        ]

    def _mix(self, recorded: RecordedMix) -> dict[str, Any]:
        mix, makes = recorded.mix, recorded.mix.version.recipe.makes
        items = [
            mixes.Ingredient(self.offered.materials[material], quantity)
            for material, quantity in recorded.parts.items()
        ]
        try:
            is_measured = mixes.total_of(items, Measure(makes.measure)) != recorded.made
        except MeniscusError:
            is_measured = True
        return {
            "mix": mix.pk,
            "leftover": mix.leftover,
            "measured": self._typed(recorded.made, makes.measure) if is_measured else "",
        }

    def _pour(self, recorded: RecordedPour) -> dict[str, Any]:
        pour = recorded.pour
        taken = {
            source.field: self._typed(quantity, source.material.measure)
            for source in self.sources
            if (
                quantity := recorded.from_mixes[source.mix]
                if source.mix
                else recorded.from_shelf[source.material.pk]
            )
        }
        run_off = "" if pour.run_off is None else self._typed(pour.run_off, Measure.VOLUME)
        return {
            "pour": pour.pk,
            "surface": pour.surface_id,
            "technique": pour.technique_id,
            "outcome": pour.outcome,
            "run_off": run_off,
            "notes": pour.notes,
            **taken,
        }

    # What they come to

    @property
    def formsets(self) -> list[tuple[str, Rows]]:
        """What a row of each formset is called, for the list of what must be put right."""
        return [
            (_("Ingredient"), self.parts),
            (_("Mix"), self.mixes),
            (_("Pour"), self.pours),
            (_("Paint"), self.shelf),
            (_("Sundry"), self.sundries),
        ]

    def _share_out_parts(self) -> None:
        """Give each mix the rows of its ingredients."""
        rows = {str(row.recorded.mix.pk): row for row in self.mixes.forms}
        for part in self.parts.forms:
            if (row := rows.get(str(part["mix"].value()))) is not None:
                row.parts.append(part)

    def facts(self) -> SessionFacts | None:
        """The session as it should have been logged; None when something on the forms must be put right."""
        if not self.form.is_bound or not all(
            [self.form.is_valid(), *(rows.is_valid() for _name, rows in self.formsets)]
        ):
            return None
        try:
            return self._facts()
        except MeniscusError as problem:
            self.refuse(problem)
            return None

    def _facts(self) -> SessionFacts:
        self._add_from_shelf()
        kept: list[MixRow] = self.mixes.kept
        positions = {row.recorded.mix.pk: place for place, row in enumerate(kept)}
        problems: list[InputError] = []
        pours: list[PourFacts] = []
        for line, row in enumerate(self.pours.kept, start=1):
            try:
                pours.append(row.facts(positions))
            except InputError as problem:
                problems.append(problem.on_line(line, rows="pours"))
        refuse_all(problems)
        batches = []
        for line, row in enumerate(kept, start=1):
            try:
                batches.append(row.facts)
            except InputError as problem:
                raise problem.on_line(line, rows="mixes") from None
        day = self.form.cleaned_data
        return SessionFacts(
            held_on=self.session.held_on,
            mixes=batches,
            pours=pours,
            sundries=[row.item for row in self.sundries.forms if row.item is not None],
            minutes=day["minutes"] or 0,
            title=day["title"],
            temperature=day["temperature"],
            humidity=day["humidity"],
            notes=day["notes"],
            spills=self._spills(positions),
        )

    def _spills(self, positions: Mapping[int, int]) -> list[Dose]:
        """What was spilled, as recorded: a mix that is struck out takes its spills along."""
        shelf = self.recorded.spilled_materials.items()
        materials = Material.objects.in_bulk([pk for pk, quantity in shelf if quantity])
        spills = [Dose(quantity, material=materials[pk]) for pk, quantity in shelf if quantity]
        return spills + [
            Dose(quantity, mix=positions[mix])
            for mix, quantity in self.recorded.spilled_mixes.items()
            if quantity and mix in positions
        ]

    def _add_from_shelf(self) -> None:
        rows = {row.recorded.pour.pk: row for row in self.pours.forms if row.recorded is not None}
        for line in self.shelf.forms:
            if line.item is None:
                continue
            row = rows.get(line.cleaned_data.get("pour") or 0)
            if row is None:
                line.add_error("pour", _("Choose the pour that this went onto."))
                raise InputError(_("Choose the pour that this went onto."))
            row.more.append(Dose(line.item.quantity, material=line.item.material))

    def refuse(self, problem: MeniscusError) -> None:
        """Show a refusal on the row that it names."""
        self.form.refuse(problem, mixes=self.mixes, pours=self.pours, sundries=self.sundries)
