"""The page on which a session is logged: one form for the day, and rows of cups, pours and sundries."""

from collections.abc import Iterable, Mapping
from typing import Any, cast

from django import forms
from django.http import QueryDict
from django.utils.translation import gettext_lazy

from inventory.errors import NotEnough
from inventory.recipes.forms.choices import FormChoices
from inventory.recipes.forms.cups import MOST_CUPS, CupForm
from inventory.sessions.actions.sessions import PourFacts, SessionFacts
from inventory.sessions.forms.pours import MOST_ROWS, PourForm
from inventory.sessions.forms.sundries import SundryForm
from studio.errors import MeniscusError
from studio.pages.forms import DayInput, KeyedForm
from studio.pages.formsets import Rows, typed_rows
from studio.pages.steppers import CountStepper
from studio.preferences.models import Studio
from studio.translation import _

CUPS, POURS, SUNDRIES = "cups", "pours", "sundries"
AT_MOST = {CUPS: MOST_CUPS, POURS: MOST_ROWS, SUNDRIES: MOST_ROWS}
# A usual set: three colours on alike surfaces, and gloves.
ROWS_AT_FIRST = {CUPS: 3, POURS: 1, SUNDRIES: 1}


class SessionForm(KeyedForm):
    """The day itself."""

    held_on = forms.DateField(label=gettext_lazy("Day"), widget=DayInput)
    title = forms.CharField(label=gettext_lazy("Title"), required=False, max_length=120)
    minutes = forms.IntegerField(
        label=gettext_lazy("Minutes worked"),
        required=False,
        min_value=0,
        max_value=24 * 60,
        widget=CountStepper(attrs={"data-step-by": "5"}),
        help_text=gettext_lazy("Hands-on, mixing included."),
    )
    temperature = forms.IntegerField(
        label=gettext_lazy("Temperature, °C"), required=False, min_value=-20, max_value=60
    )
    humidity = forms.IntegerField(
        label=gettext_lazy("Humidity, %"), required=False, min_value=0, max_value=100
    )
    notes = forms.CharField(
        label=gettext_lazy("Notes"), required=False, max_length=5000, widget=forms.Textarea(attrs={"rows": 3})
    )
    confirm_gain = forms.BooleanField(
        label=gettext_lazy(
            "The bottles held more than the books say: post a count gain first, then this session"
        ),
        required=False,
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["title"].widget.attrs["placeholder"] = _("Ring pours on boards")


class CupRows(Rows):
    """The cups; `stale` are the rows whose parts were worked out for something else."""

    def __init__(self, *args: Any, stale: Iterable[int] = (), **kwargs: Any) -> None:
        self.stale = set(stale)
        super().__init__(*args, **kwargs)

    def get_form_kwargs(self, index: int | None) -> dict[str, Any]:
        return {
            **super().get_form_kwargs(index),
            "stale": index in self.stale,
            "is_pattern": index is None and self.has_rows,
        }


class BareRows(Rows):
    """Rows of pours or of sundries; the pattern of a new one is bare."""

    def get_form_kwargs(self, index: int | None) -> dict[str, Any]:
        return {**super().get_form_kwargs(index), "is_pattern": index is None and self.has_rows}


CupFormSet = cast(
    "type[CupRows]",
    forms.formset_factory(
        CupForm, formset=CupRows, max_num=MOST_CUPS, absolute_max=MOST_CUPS, validate_max=True
    ),
)
PourFormSet, SundryFormSet = (
    cast(
        "type[Rows]",
        forms.formset_factory(
            row,
            formset=BareRows,
            max_num=MOST_ROWS,
            absolute_max=MOST_ROWS,
            validate_max=True,
            can_delete=True,
        ),
    )
    for row in (PourForm, SundryForm)
)


class SessionSheet:
    """All forms of the page together. Made by `fresh`, `worked_out` or `sent`."""

    def __init__(
        self,
        *,
        studio: Studio,
        form_choices: FormChoices,
        rows: Mapping[str, list[dict[str, Any]]],
        main: dict[str, Any] | None = None,
        data: QueryDict | None = None,
        files: Any = None,
        stale: Iterable[int] = (),
        spare: Mapping[str, int] | None = None,
    ) -> None:
        def given(prefix: str, **more: Any) -> dict[str, Any]:
            offered = {
                "prefix": prefix,
                "form_kwargs": {"studio": studio, "form_choices": form_choices, **more},
            }
            if data is not None:
                return {"data": data, "files": files, **offered}
            return {"initial": rows[prefix], "spare": (spare or {}).get(prefix, 0), **offered}

        form_choices.find_lots(str(row.get("contents", "")) for row in rows[CUPS])
        self.form = SessionForm(data, initial=main, studio=studio)
        self.cups = CupFormSet(stale=stale, **given(CUPS))
        names = [cup.makes.name if cup.makes else "" for cup in self.cups.forms]
        self.pours = PourFormSet(**given(POURS, cup_names=names))
        self.sundries = SundryFormSet(**given(SUNDRIES))
        self.shortfalls: list[str] = []
        self.figures: Any = None
        self.photos: list[tuple[Any, int, int]] = []

    @classmethod
    def fresh(
        cls,
        *,
        studio: Studio,
        form_choices: FormChoices,
        main: dict[str, Any],
        rows: Mapping[str, list[dict[str, Any]]],
    ) -> "SessionSheet":
        """A new page, with rows to begin with where an earlier session is repeated."""
        found = {prefix: rows.get(prefix, []) for prefix in AT_MOST}
        for row in found[CUPS]:
            CupForm(initial=dict(row), studio=studio, form_choices=form_choices).refreshed(row)
        spare = {
            prefix: max(count - len(found[prefix]), 0) if not rows or prefix == SUNDRIES else 0
            for prefix, count in ROWS_AT_FIRST.items()
        }
        return cls(studio=studio, form_choices=form_choices, main=main, rows=found, spare=spare)

    @classmethod
    def worked_out(
        cls, *, studio: Studio, form_choices: FormChoices, data: QueryDict, more: str = ""
    ) -> "SessionSheet":
        """The page as it was sent, with the parts of every cup worked out; `more` names rows that want one more."""
        rows = {prefix: typed_rows(data, prefix, at_most=most) for prefix, most in AT_MOST.items()}
        for row in rows[CUPS]:
            CupForm(initial=dict(row), studio=studio, form_choices=form_choices).refreshed(row)
        main = {name: data.get(name) for name in SessionForm.base_fields if data.get(name)}
        sheet = cls(studio=studio, form_choices=form_choices, main=main, rows=rows, spare={more: 1})
        for cup in sheet.cups.forms:
            cup.just_planned = not more
        return sheet

    @classmethod
    def sent(
        cls,
        *,
        studio: Studio,
        form_choices: FormChoices,
        data: QueryDict,
        files: Any = None,
        forgiving: bool = False,
    ) -> "SessionSheet":
        """The page as it was sent to be posted. Parts never worked out go in as planned.

        With `forgiving`, parts worked out for something else go in as planned too: then nothing is posted.
        """
        data = data.copy()
        rows = {prefix: typed_rows(data, prefix, at_most=most) for prefix, most in AT_MOST.items()}
        stale = []
        for index, row in enumerate(rows[CUPS]):
            if CupForm(initial=dict(row), studio=studio, form_choices=form_choices).refreshed(row):
                stale.append(index)
            for name, text in row.items():
                data[f"{CUPS}-{index}-{name}"] = text
        return cls(
            studio=studio,
            form_choices=form_choices,
            rows=rows,
            data=data,
            files=files,
            stale=[] if forgiving else stale,
        )

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
    def has_errors(self) -> bool:
        return bool(self.form.errors) or any(rows.total_error_count() for _name, rows in self.formsets)

    def facts(self) -> SessionFacts | None:
        """The session as it happened; None when something must be put right, which then stands on the forms.

        `photos` then holds each photo with the first of the pours that it shows, and the one after the last.
        """
        if not all([self.form.is_valid(), *(rows.is_valid() for _name, rows in self.formsets)]):
            return None
        cups = self.cups.forms
        pours: list[PourFacts] = []
        for row in self.pours.kept:
            first = len(pours)
            try:
                pours += row.pours(cups)
            except MeniscusError as problem:
                row.refuse(problem)
            if row.cleaned_data.get("photo") is not None:
                self.photos.append((row.cleaned_data["photo"], first, len(pours)))
        if self.has_errors:
            return None
        said = self.form.cleaned_data
        return SessionFacts(
            held_on=said["held_on"],
            mixes=[cup.facts for cup in cups if cup.facts is not None],
            pours=pours,
            sundries=[row.item for row in self.sundries.kept if row.item is not None],
            minutes=said["minutes"] or 0,
            title=said["title"],
            temperature=said["temperature"],
            humidity=said["humidity"],
            notes=said["notes"],
        )

    def refuse(self, problem: MeniscusError) -> None:
        """Show a writer's refusal; shortfalls are listed one by one, to be corrected or confirmed."""
        if isinstance(problem, NotEnough):
            self.shortfalls = problem.described
        else:
            self.form.refuse(problem)
