"""The page on which a batch outside a session is logged, such as home-made medium ahead of time."""

from datetime import date
from typing import Any

from django import forms
from django.http import QueryDict
from django.utils.translation import gettext_lazy

from inventory.errors import NotEnough
from inventory.recipes.forms.choices import FormChoices
from inventory.recipes.forms.cups import CupForm
from studio.errors import MeniscusError
from studio.pages.forms import DayInput, KeyedForm
from studio.preferences.models import Studio
from studio.translation import _

CUP = "cup"


class BatchForm(KeyedForm):
    """The day, and the confirmation when the books held too little."""

    mixed_on = forms.DateField(label=gettext_lazy("Day"), widget=DayInput)
    confirm_gain = forms.BooleanField(
        label=gettext_lazy(
            "The bottles held more than the books say: post a count gain first, then this mix"
        ),
        required=False,
    )


class BatchCup(CupForm):
    """The batch itself: always by a recipe, and all of it is kept."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        del self.fields["rest"]
        self.fields["contents"].label = _("Recipe")
        self.fields["contents"].error_messages["required"] = _("Choose a recipe.")
        self.fields["place"].label = _("Where it stands")
        self.fields["use_by"].label = _("Use by")

    def has_changed(self) -> bool:
        """There is one batch on the page, so it is always judged."""
        return True


class BatchSheet:
    """Both forms of the page together."""

    def __init__(
        self,
        *,
        studio: Studio,
        form_choices: FormChoices,
        row: dict[str, str],
        main: dict[str, Any] | None = None,
        data: QueryDict | None = None,
        stale: bool = False,
    ) -> None:
        form_choices.find_lots([str(row.get("contents", ""))])
        self.form = BatchForm(data, initial=main, studio=studio)
        self.cup = BatchCup(
            data, prefix=CUP, initial=row, studio=studio, form_choices=form_choices, stale=stale
        )
        self.shortfalls: list[str] = []

    @classmethod
    def fresh(
        cls, *, studio: Studio, form_choices: FormChoices, on: date, row: dict[str, str]
    ) -> "BatchSheet":
        """A new page, with the recipe chosen where one was asked for."""
        BatchCup(initial=dict(row), studio=studio, form_choices=form_choices).refreshed(row)
        sheet = cls(studio=studio, form_choices=form_choices, row=row, main={"mixed_on": on})
        sheet.cup.just_planned = True
        return sheet

    @classmethod
    def worked_out(cls, *, studio: Studio, form_choices: FormChoices, data: QueryDict) -> "BatchSheet":
        """The page as it was sent, with the parts worked out."""
        row = _typed(data)
        BatchCup(initial=dict(row), studio=studio, form_choices=form_choices).refreshed(row)
        main = {name: data.get(name) for name in BatchForm.base_fields if data.get(name)}
        sheet = cls(studio=studio, form_choices=form_choices, row=row, main=main)
        sheet.cup.just_planned = True
        return sheet

    @classmethod
    def sent(cls, *, studio: Studio, form_choices: FormChoices, data: QueryDict) -> "BatchSheet":
        """The page as it was sent to be posted."""
        data, row = data.copy(), _typed(data)
        stale = BatchCup(initial=dict(row), studio=studio, form_choices=form_choices).refreshed(row)
        for name, text in row.items():
            data[f"{CUP}-{name}"] = text
        return cls(studio=studio, form_choices=form_choices, row=row, data=data, stale=stale)

    def is_valid(self) -> bool:
        return all([self.form.is_valid(), self.cup.is_valid()])

    def refuse(self, problem: MeniscusError) -> None:
        """Show a writer's refusal; shortfalls are listed one by one, to be corrected or confirmed."""
        if isinstance(problem, NotEnough):
            self.shortfalls = problem.described
        else:
            self.form.refuse(problem)


def _typed(data: QueryDict) -> dict[str, str]:
    start = f"{CUP}-"
    return {name.removeprefix(start): str(data[name]) for name in data if name.startswith(start)}
