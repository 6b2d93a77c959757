"""The page on which a batch outside a session is logged, such as home-made medium ahead of time."""

from collections.abc import Mapping
from datetime import date
from typing import Any

from django import forms
from django.http import QueryDict
from django.utils.translation import gettext_lazy

from inventory.errors import NotEnough
from inventory.recipes.actions.mixes import MixFacts
from inventory.recipes.forms.choices import FormChoices
from inventory.recipes.forms.cups import CupForm
from studio.errors import MeniscusError
from studio.pages.forms import DayInput, KeyedForm, new_key
from studio.pages.formsets import as_sent
from studio.preferences.models import Studio
from studio.translation import _

CUP = "cup"


class BatchForm(KeyedForm):
    """The day, and the confirmation when the books held too little."""

    mixed_on = forms.DateField(label=gettext_lazy("Day"), widget=DayInput)
    confirm_gain = forms.BooleanField(
        label=gettext_lazy(
            "There was more in the bottles than recorded: add the difference to stock, then save this mix"
        ),
        required=False,
    )


class BatchCup(CupForm):
    """The batch itself: always by a recipe, and all of it is kept."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        del self.fields["leftover"]
        self.fields["contents"].label = _("Recipe")
        self.fields["contents"].error_messages["required"] = _("Choose a recipe.")
        self.fields["place"].label = _("Where it is kept")
        self.fields["use_by"].label = _("Use by")

    def has_changed(self) -> bool:
        """There is one batch on the page, so it is always judged."""
        return True


class BatchDraft:
    """A batch while it is typed: the day and its one cup, each form made once from what was typed.

    Made by `filled` (a new page), `typed` (to be filled in further) or `sent` (to be posted).
    """

    def __init__(
        self, data: dict[str, str], *, studio: Studio, form_choices: FormChoices, while_typing: bool
    ) -> None:
        form_choices.find_lots([data.get(f"{CUP}-contents", "")])
        self.form = BatchForm(data, studio=studio)
        self.cup = BatchCup(
            data, prefix=CUP, studio=studio, form_choices=form_choices, while_typing=while_typing
        )
        self.form.hides_errors = self.cup.hides_errors = self.cup.just_planned = while_typing
        self.shortfalls: list[str] = []

    @classmethod
    def filled(
        cls, *, studio: Studio, form_choices: FormChoices, on: date, cup: Mapping[str, str]
    ) -> "BatchDraft":
        """A new page, with the recipe chosen where one was asked for."""
        data = {"key": new_key(), "mixed_on": on.isoformat()}
        data |= {f"{CUP}-{name}": text for name, text in cup.items()}
        return cls(data, studio=studio, form_choices=form_choices, while_typing=True)

    @classmethod
    def typed(cls, data: QueryDict, *, studio: Studio, form_choices: FormChoices) -> "BatchDraft":
        """The page as it was sent, with the parts worked out."""
        return cls(
            {"key": new_key(), **as_sent(data)}, studio=studio, form_choices=form_choices, while_typing=True
        )

    @classmethod
    def sent(cls, data: QueryDict, *, studio: Studio, form_choices: FormChoices) -> "BatchDraft":
        """The page as it was sent to be posted."""
        return cls(as_sent(data), studio=studio, form_choices=form_choices, while_typing=False)

    @property
    def facts(self) -> MixFacts | None:
        """The batch as it was mixed; None when something must be put right, which then stands on the forms."""
        return self.cup.facts if all([self.form.is_valid(), self.cup.is_valid()]) else None

    def refuse(self, problem: MeniscusError) -> None:
        """Show a writer's refusal; shortfalls are listed one by one, to be corrected or confirmed."""
        if isinstance(problem, NotEnough):
            self.shortfalls = problem.described
        else:
            self.form.refuse(problem)
