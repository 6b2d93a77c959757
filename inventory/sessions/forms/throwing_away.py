"""Throwing failed pours away: which, since when, and what kind of loss that is."""

from functools import partial
from typing import Any

from django import forms
from django.db.models import QuerySet
from django.utils import timezone
from django.utils.translation import gettext_lazy

from inventory.comparisons.queries.blinding import HiddenArms, hidden_arms
from inventory.ledger.models import Reason
from inventory.sessions.actions.throwing_away import ThrowAwayFacts
from inventory.sessions.models import Pour
from studio.errors import InputError
from studio.pages.forms import DayInput, KeyedForm
from studio.translation import _

NORMAL, ABNORMAL = "normal", "abnormal"


class ThrowAwayForm(KeyedForm):
    """Failed pours of one session."""

    pours = forms.ModelMultipleChoiceField(
        label=gettext_lazy("Failed pours"), queryset=Pour.objects.none(), widget=forms.CheckboxSelectMultiple
    )
    loss = forms.ChoiceField(
        label=gettext_lazy("Kind of loss"),
        choices=[
            (NORMAL, gettext_lazy("Normal: some pours fail. The good pours of this session carry the cost.")),
            (ABNORMAL, gettext_lazy("Abnormal: something went wrong. It is a loss with its own reason.")),
        ],
        widget=forms.RadioSelect,
        initial=NORMAL,
    )
    reason = forms.ModelChoiceField(
        label=gettext_lazy("Reason"),
        queryset=Reason.objects.filter(kind=Reason.Kind.LOSS),
        empty_label=gettext_lazy("Choose…"),
        required=False,
        help_text=gettext_lazy("For an abnormal loss."),
    )
    on = forms.DateField(label=gettext_lazy("Day"), widget=DayInput, initial=timezone.localdate)
    note = forms.CharField(label=gettext_lazy("Note"), max_length=300, required=False)

    def __init__(self, *args: Any, pours: QuerySet[Pour], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        choice = self.fields["pours"]
        if isinstance(choice, forms.ModelMultipleChoiceField):
            choice.label_from_instance = partial(_described, hidden=hidden_arms())  # type: ignore[method-assign]
            choice.queryset = pours

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        if cleaned.get("loss") == ABNORMAL and not cleaned.get("reason"):
            self.add_error("reason", gettext_lazy("Choose what happened."))
        return cleaned

    @property
    def facts(self) -> ThrowAwayFacts:
        """What a valid form says. Raises InputError."""
        typed = self.cleaned_data
        if typed["loss"] == NORMAL and typed["reason"]:
            raise InputError(
                _("A normal loss needs no reason. Leave it blank, or choose “Abnormal”."), field="reason"
            )
        return ThrowAwayFacts(list(typed["pours"]), typed["reason"], typed["note"])


def _described(pour: Pour, hidden: HiddenArms) -> str:
    """A pour with its surface and what was noted."""
    return ", ".join(filter(None, (pour.label, pour.surface.name, hidden.arm_of(pour), pour.notes)))
