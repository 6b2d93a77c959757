"""Judging pours: how each turned out and what was wrong with it; and the list of flaws."""

from collections.abc import Sequence
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy

from inventory.sessions.actions.judging import JudgementFacts
from inventory.sessions.models import Flaw, Pour, PourJudgement, Stage
from studio.pages.forms import RowForm, StudioForm

JUDGED = [each for each in Pour.Outcome.choices if each[0] != Pour.Outcome.OPEN]


class JudgeForm(StudioForm):
    """One pour of a session. Left without an outcome, it is not judged now."""

    outcome = forms.ChoiceField(
        label=gettext_lazy("How did it turn out?"),
        choices=JUDGED,
        required=False,
        widget=forms.RadioSelect(attrs={"class": "score"}),
    )
    flaws = forms.MultipleChoiceField(
        label=gettext_lazy("What is wrong with it"),
        required=False,
        widget=forms.CheckboxSelectMultiple(attrs={"class": "score"}),
    )
    notes = forms.CharField(label=gettext_lazy("Notes"), required=False, max_length=300)

    def __init__(self, *args: Any, pour: Pour, flaws: Sequence[Flaw], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.pour, self.known_flaws = pour, {str(flaw.pk): flaw for flaw in flaws}
        field = self.fields["flaws"]
        if isinstance(field, forms.ChoiceField):
            field.choices = [(pk, flaw.name) for pk, flaw in self.known_flaws.items()]

    @property
    def says_more(self) -> bool:
        return bool(self["flaws"].value() or self["notes"].value() or self.errors)

    def take_over(self, other: "JudgeForm") -> None:
        """Show what was marked in the same pour's row of the other stage, where anything was."""
        if other.has_changed():
            self.initial = {name: other[name].value() for name in other.fields}

    @staticmethod
    def values_of(judgement: PourJudgement | None) -> dict[str, Any]:
        if judgement is None:
            return {}
        flaws = [str(each.flaw_id) for each in judgement.judged_flaws.all()]
        return {"outcome": judgement.outcome, "flaws": flaws, "notes": judgement.notes}

    def facts(self, stage: str) -> JudgementFacts | None:
        """The judgement, once the form is valid; None where the pour is not judged now."""
        cleaned = self.cleaned_data
        if not cleaned["outcome"]:
            return None
        flaws = [self.known_flaws[pk] for pk in cleaned["flaws"]]
        return JudgementFacts(self.pour, cleaned["outcome"], stage, flaws, cleaned["notes"])


class StageForm(StudioForm):
    """Whether pours are judged wet or dry."""

    stage = forms.ChoiceField(
        label=gettext_lazy("Judged"),
        choices=Stage.choices,
        widget=forms.RadioSelect(attrs={"class": "score"}),
    )


class FlawForm(RowForm):
    """A flaw's name."""

    class Meta:
        model = Flaw
        fields = ("name",)
        labels = {"name": gettext_lazy("Name")}
