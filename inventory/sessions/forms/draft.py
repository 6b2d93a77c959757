"""A session while it is typed, whatever fills it in: an empty page, a plan, an earlier session, or what was sent."""

from collections.abc import Mapping, Sequence
from datetime import date
from functools import partial
from typing import Any

from django.http import QueryDict
from django.utils.dateparse import parse_date

from inventory.recipes.forms.choices import FormChoices
from inventory.recipes.forms.cup_parts import added_names
from inventory.recipes.forms.cup_totals import followed_total
from inventory.recipes.forms.cups import MOST_CUPS, CupForm
from inventory.sessions.actions.sessions import Dose, PourFacts, SessionFacts
from inventory.sessions.actions.weighings import WeighingFacts
from inventory.sessions.forms.pours import MOST_ROWS, PourForm
from inventory.sessions.forms.sessions import CupFormSet, PourFormSet, SessionForm, SundryForm, SundryFormSet
from inventory.sessions.forms.suggestions import suggest_amounts
from inventory.sessions.forms.tapped_surfaces import add_pour
from inventory.sessions.queries.rehearsal import Rehearsal
from studio.errors import InputError, MeniscusError
from studio.pages.forms import StudioForm, new_key
from studio.pages.formsets import as_sent, data_of_rows, typed_rows
from studio.translation import _
from studio.values.numbers import read_small_whole

CUPS, POURS, SUNDRIES = "cups", "pours", "sundries"
ROW_FORMS: Mapping[str, type[StudioForm]] = {CUPS: CupForm, POURS: PourForm, SUNDRIES: SundryForm}
AT_MOST = {CUPS: MOST_CUPS, POURS: MOST_ROWS, SUNDRIES: MOST_ROWS}
# A usual set: three colours on alike surfaces, and gloves.
ROWS_AT_FIRST = {CUPS: 3, POURS: 1, SUNDRIES: 1}
NOT_COPIED = ("DELETE", "photo")
FormRows = Mapping[str, list[dict[str, Any]]]


class SessionDraft:
    """The forms of the page, each made once from what was typed; the facts are read from them once.

    Made by `filled` (a new page), `typed` (to be filled in further) or `sent` (to be posted).
    """

    def __init__(
        self, data: dict[str, str], *, form_choices: FormChoices, files: Any = None, while_typing: bool
    ) -> None:
        contents = (data.get(f"{CUPS}-{number}-contents", "") for number in range(MOST_CUPS))
        form_choices.find_lots(contents, added_names(data))
        common = {"studio": form_choices.studio, "form_choices": form_choices}
        self.while_typing, self.form_choices = while_typing, form_choices
        self.form = SessionForm(data, studio=form_choices.studio)
        self.cups = CupFormSet(
            data, prefix=CUPS, auto_id="%s", form_kwargs={**common, "while_typing": while_typing}
        )
        names = [cup.makes.name if cup.makes else "" for cup in self.cups.forms]
        self.pours = PourFormSet(
            data, files, prefix=POURS, auto_id="%s", form_kwargs={**common, "cup_names": names}
        )
        self.sundries = SundryFormSet(data, prefix=SUNDRIES, auto_id="%s", form_kwargs=common)
        self.rehearsal: Rehearsal | None = None
        self.problem = ""
        self._pours: list[tuple[PourForm, list[PourFacts]]] | None = None

    @classmethod
    def filled(cls, *, form_choices: FormChoices, day: Mapping[str, Any], rows: FormRows) -> "SessionDraft":
        """A new page, with rows to begin with where a plan or an earlier session is written in."""
        given = {prefix: list(rows.get(prefix, [])) for prefix in ROW_FORMS}
        new_rows = {POURS: {"technique": form_choices.usual_technique}}
        for prefix, count in ROWS_AT_FIRST.items():
            if not rows or prefix == SUNDRIES:
                given[prefix] += [new_rows.get(prefix, {})] * (count - len(given[prefix]))
        data = {"key": new_key(), **{name: str(value) for name, value in day.items() if value is not None}}
        draft = cls(data | _typed(given), form_choices=form_choices, while_typing=True)
        draft.hide_errors()
        return draft

    @classmethod
    def typed(
        cls,
        data: QueryDict,
        *,
        form_choices: FormChoices,
        button: str = "",
        cups: Sequence[dict[str, Any]] = (),
    ) -> "SessionDraft":
        """The page as it was sent, with the parts of every cup worked out, and the rows that a button asked for.

        "more-cups" is one more, "copy-cups" the last once more, "pour-17" one more pour on that surface; `cups` are
        cups to be filled in besides.
        """
        rows: dict[str, list[dict[str, Any]]] = {
            prefix: list(typed_rows(data, prefix, at_most=most)) for prefix, most in AT_MOST.items()
        }
        asked, _dash, prefix = button.partition("-")
        if asked in ("more", "copy") and prefix in rows and len(rows[prefix]) < AT_MOST[prefix]:
            copied = rows[prefix][-1] if asked == "copy" and rows[prefix] else {}
            rows[prefix].append({name: value for name, value in copied.items() if name not in NOT_COPIED})
        if asked == "pour" and (surface := form_choices.surfaces.get(read_small_whole(prefix) or 0)):
            add_pour(rows[POURS], surface.pk, form_choices.usual_technique)
        if cups:
            rows[CUPS] = [*_begun(rows[CUPS]), *cups][:MOST_CUPS]
        for row in rows[CUPS]:
            row |= followed_total(partial(_text_in, row), form_choices)
        suggest_amounts(rows[CUPS], rows[POURS], form_choices)
        day = {
            name: str(data[name]) for name in (*SessionForm.base_fields, SessionForm.tick) if data.get(name)
        }
        return cls({"key": new_key(), **day, **_typed(rows)}, form_choices=form_choices, while_typing=True)

    @classmethod
    def sent(cls, data: QueryDict, files: Any, *, form_choices: FormChoices) -> "SessionDraft":
        """The page as it was sent to be posted. Parts never worked out go in as planned."""
        return cls(as_sent(data), form_choices=form_choices, files=files, while_typing=False)

    @property
    def formsets(self) -> list[tuple[str, Any]]:
        """What a row of each formset is called, for the list of what must be put right."""
        return [(_("Cup"), self.cups), (_("Pours"), self.pours), (_("Sundry"), self.sundries)]

    @property
    def says_weather(self) -> bool:
        """Whether the folded fields of the day hold something, or must be put right."""
        folded = (self.form[name] for name in ("temperature", "humidity", "notes"))
        return any(field.value() or field.errors for field in folded)

    @property
    def day_in_words(self) -> str:
        """The day and the title as far as they were typed."""
        day = parse_date(str(self.form["held_on"].value() or ""))
        words = (self.form.formatter.day(day) if day else "", self.form["title"].value())
        return ", ".join(word for word in words if word)

    @property
    def sundries_in_words(self) -> str:
        """The sundries as far as they were typed."""
        names = {pk: item.name for pk, item in self.form_choices.sundries.items()}
        return ", ".join(
            f"{names[pk]} ({row['amount'].value()})"
            for row in self.sundries.forms
            if (pk := read_small_whole(str(row["material"].value() or ""))) in names
            and not row["DELETE"].value()
        )

    @property
    def has_errors(self) -> bool:
        if self.form.hides_errors:
            return False
        return bool(self.form.errors) or any(rows.total_error_count() for _name, rows in self.formsets)

    def show_new_parts(self, are_open: bool) -> None:
        """Let the parts of the cups stand open."""
        for cup in self.cups.forms:
            cup.just_planned = are_open

    def hide_errors(self) -> None:
        """Complain of nothing: the page comes back to be filled in further."""
        self.form.hides_errors = True
        for _name, rows in self.formsets:
            for row in rows.forms:
                row.hides_errors = True

    @property
    def pours_by_row(self) -> list[tuple[PourForm, list[PourFacts]]]:
        """The pours of every finished row that was not removed. What is wrong with the others stands on their forms."""
        if self._pours is None:
            for form in (self.form, self.cups, self.pours, self.sundries):
                form.is_valid()
            self._pours = [
                (row, pours)
                for row in self.pours.forms
                if row.has_changed() and not is_removed(row) and (pours := self._pours_of(row))
            ]
        return self._pours

    def _pours_of(self, row: PourForm) -> list[PourFacts]:
        if row.errors or (self.while_typing and row.adds_surface):
            return []  # what is not saved yet has no figures
        try:
            pours = row.pours(self.cups.forms)
        except MeniscusError as problem:
            row.refuse(problem)
            return []
        return [] if row.errors else pours

    def facts_with(self, pours: Sequence[PourFacts], *, on: date) -> SessionFacts:
        """The session so far with these pours, on that day unless one was typed. Raises MeniscusError."""
        cleaned = self.form.cleaned_data
        sundries = [row.item for row in self.sundries.forms if row.item is not None and not is_removed(row)]
        return SessionFacts(
            held_on=cleaned.get("held_on") or on,
            mixes=[cup.facts for cup in self.cups.forms if cup.facts is not None],
            pours=pours,
            sundries=sundries if pours or not self.while_typing else [],
            minutes=cleaned.get("minutes") or 0,
            title=cleaned.get("title", ""),
            temperature=cleaned.get("temperature"),
            humidity=cleaned.get("humidity"),
            notes=cleaned.get("notes", ""),
            weighings=self._weighings() if pours else [],
            spills=[dose for _cup, dose in self._spills()],
        )

    def _spills(self) -> list[tuple[CupForm, Dose]]:
        """What was spilled out of each cup."""
        mixed = [cup for cup in self.cups.forms if cup.facts is not None]
        spills = []
        for cup in self.cups.forms:
            if cup.spilled_amount and cup in mixed:
                spills.append((cup, Dose(cup.spilled_amount, mix=mixed.index(cup))))
            elif cup.spilled_amount and cup.ready is not None:
                spills.append((cup, Dose(cup.spilled_amount, material=cup.ready, lot=cup.lot)))
        return spills

    def _weighings(self) -> list[WeighingFacts]:
        """What the scale showed, by the pours of the row in which it was typed."""
        weighings, first = [], 0
        for row, pours in self.pours_by_row:
            if row.readings is not None:
                weighings.append(WeighingFacts(tuple(range(first, first + len(pours))), row.readings))
            first += len(pours)
        return weighings

    @property
    def facts(self) -> SessionFacts | None:
        """The session as it happened; None when something must be put right, which then stands on the forms."""
        pours = [pour for _row, pours in self.pours_by_row for pour in pours]
        if self.has_errors:
            self._ask_for_techniques_first()
            return None
        try:
            return self.facts_with(pours, on=self.form.cleaned_data["held_on"])
        except MeniscusError as problem:
            self.refuse(problem)
            return None

    def _ask_for_techniques_first(self) -> None:
        """An amount left blank is suggested once the pours have a technique: until then only that is asked for."""
        if any("technique" in row.errors for row in self.pours.forms):
            for cup in self.cups.forms:
                if not cup["wanted"].value():
                    cup.errors.pop("wanted", None)

    @property
    def photos(self) -> list[tuple[Any, int, int]]:
        """Each photo with the first of the pours that it shows, and the one after the last."""
        photos, first = [], 0
        for row, pours in self.pours_by_row:
            if row.cleaned_data.get("photo") is not None:
                photos.append((row.cleaned_data["photo"], first, first + len(pours)))
            first += len(pours)
        return photos

    def refuse(self, problem: MeniscusError) -> None:
        """Show a refusal on the row that it names."""
        for each in problem.problems if isinstance(problem, InputError) else (problem,):
            self._row_of(each).refuse(each)

    def _row_of(self, problem: MeniscusError) -> StudioForm:
        if not isinstance(problem, InputError) or problem.line is None:
            return self.form
        rows: dict[str, list[StudioForm]] = {
            "mixes": [cup for cup in self.cups.forms if cup.facts is not None],
            "spills": [cup for cup, _dose in self._spills()],
            "pours": [row for row, pours in self.pours_by_row for _pour in pours],
            "weighings": [row for row, _pours in self.pours_by_row if row.readings is not None],
            "sundries": [row for row in self.sundries.forms if row.item is not None and not is_removed(row)],
        }
        return rows[problem.rows][problem.line - 1]


def is_removed(row: StudioForm) -> bool:
    """Whether its tick box to remove it was ticked."""
    return bool(row.cleaned_data.get("DELETE"))


def _begun(cups: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Cups without the blank ones after the last that says something; a cup's number never changes."""
    begun = [number for number, cup in enumerate(cups, start=1) if cup.get("contents") or cup.get("wanted")]
    return cups[: max(begun, default=0)]


def _text_in(row: Mapping[str, Any], name: str) -> str:
    return str(row.get(name, ""))


def _typed(rows: FormRows) -> dict[str, str]:
    return {
        name: text
        for prefix, row_form in ROW_FORMS.items()
        for name, text in data_of_rows(prefix, rows[prefix], row_form).items()
    }
