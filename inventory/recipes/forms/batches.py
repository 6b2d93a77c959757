"""The page on which a batch outside a session is logged, such as home-made medium ahead of time."""

from typing import Any, cast

from django import forms
from django.utils.translation import gettext_lazy

from inventory.errors import NotEnough
from inventory.recipes.forms.cups import CupForm
from studio.errors import MeniscusError
from studio.pages.forms import AskingForm, DayInput
from studio.pages.formsets import Rows
from studio.translation import _


class ShortfallForm(AskingForm):
    """A form whose shortfalls are listed one by one, to be corrected or confirmed."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.shortfalls: list[str] = []

    def refuse(self, problem: MeniscusError, **formsets: Rows) -> None:
        if isinstance(problem, NotEnough):
            self.shortfalls = problem.described
        super().refuse(problem, **formsets)


class BatchForm(ShortfallForm):
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
        del self.fields["leftover"], self.fields["spilled"]
        self.fields["contents"].label = _("Recipe")
        self.fields["contents"].error_messages["required"] = _("Choose a recipe.")
        self.fields["place"].label = _("Where it is kept")
        self.fields["use_by"].label = _("Use by")

    def _offer_contents(self) -> None:
        choices = [("", _("Choose…")), *self.form_choices.recipe_choices]
        cast("forms.ChoiceField", self.fields["contents"]).choices = choices

    def has_changed(self) -> bool:
        """There is one batch on the page, so it is always judged."""
        return True
