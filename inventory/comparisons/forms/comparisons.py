"""Forms for setting a comparison up: its arms, criteria and judges, and which pours are in it."""

from collections.abc import Iterable, Mapping
from typing import Any

from django import forms
from django.forms import BoundField
from django.utils.translation import gettext_lazy

from inventory.comparisons.actions.comparison_facts import (
    LONGEST_NAME,
    MOST_CRITERIA,
    ArmFacts,
    ComparisonFacts,
    CriterionFacts,
)
from inventory.comparisons.actions.comparisons import Placement
from inventory.comparisons.models import ComparedPour, Comparison, ComparisonArm, Judged, Scale, VariedChoice
from inventory.sessions.models import Pour
from studio.accounts.models import Role, User
from studio.errors import InputError
from studio.pages.forms import KeyedForm, NotesField, RatioField, RowForm, StudioForm
from studio.pages.formsets import Rows, rows_of
from studio.translation import _


class ComparisonForm(KeyedForm):
    """What is compared, by whom, and whether blind."""

    name = forms.CharField(label=gettext_lazy("Name"), max_length=120)
    varied = forms.ChoiceField(
        label=gettext_lazy("What differs on purpose"),
        choices=[("", gettext_lazy("Choose…")), *VariedChoice.choices],
        help_text=gettext_lazy("Only this may differ. Everything else that is recorded is compared."),
    )
    arms = forms.CharField(
        label=gettext_lazy("Arms"),
        widget=forms.Textarea(attrs={"rows": 3, "placeholder": gettext_lazy("White first\nWhite last")}),
        help_text=gettext_lazy("The ways that you compare, one a line."),
    )
    judged = forms.ChoiceField(
        label=gettext_lazy("Judged"), choices=Judged.choices, widget=forms.RadioSelect, initial=Judged.BOTH
    )
    judges = forms.ModelMultipleChoiceField(
        label=gettext_lazy("Judges"),
        queryset=User.objects.none(),
        required=False,
        widget=forms.CheckboxSelectMultiple,
    )
    is_blind = forms.BooleanField(
        label=gettext_lazy("Blind: hide the arms until all scores are in"),
        required=False,
        help_text=gettext_lazy("Each pour gets a code by lot, another one dry. Write it on the piece."),
    )
    notes = NotesField(rows=2)

    def __init__(self, *args: Any, pours: Iterable[Pour] = (), **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.pours = list(pours)
        judges = self.fields["judges"]
        if isinstance(judges, forms.ModelMultipleChoiceField):
            workers = User.objects.filter(is_active=True, role__in=[Role.OWNER, Role.HELPER])
            judges.queryset = workers.order_by("username")

    def facts(self, criteria: Rows) -> ComparisonFacts:
        """The comparison, once everything is valid; pours whose note is an arm's name are in it. Raises InputError."""
        cleaned = self.cleaned_data
        names = [line.strip() for line in cleaned["arms"].splitlines() if line.strip()]
        return ComparisonFacts(
            name=cleaned["name"],
            varied=cleaned["varied"],
            arms=[ArmFacts(name, [pour for pour in self.pours if pour.arm == name]) for name in names],
            criteria=[row.facts for row in criteria.kept],
            judges=list(cleaned["judges"]),
            judged=cleaned["judged"],
            is_blind=cleaned["is_blind"],
            notes=cleaned["notes"],
        )


class CriterionForm(StudioForm):
    """What is judged, and on which scale. Once valid, `facts` is the criterion."""

    facts: CriterionFacts

    name = forms.CharField(label=gettext_lazy("What you judge"), max_length=LONGEST_NAME)
    scale = forms.ChoiceField(label=gettext_lazy("Scale"), choices=Scale.choices, initial=Scale.POINTS)
    lowest = forms.IntegerField(
        label=gettext_lazy("Points from"), required=False, initial=0, min_value=-100, max_value=100
    )
    highest = forms.IntegerField(
        label=gettext_lazy("Points to"), required=False, initial=10, min_value=-100, max_value=100
    )
    words = forms.CharField(
        label=gettext_lazy("Words"),
        required=False,
        max_length=600,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text=gettext_lazy("For a scale of words: one a line, from worst to best."),
    )
    unit = forms.CharField(
        label=gettext_lazy("Unit"),
        required=False,
        max_length=20,
        help_text=gettext_lazy("For a figure, such as “mm” or “per 100 cm²”."),
    )
    low_is_better = forms.BooleanField(label=gettext_lazy("A lower score is better"), required=False)
    margin = RatioField(
        label=gettext_lazy("Difference that matters"),
        places=3,
        required=False,
        help_text=gettext_lazy(
            "How far apart two arms must be for you to care. Leave blank for 1, or 10 per 100 cm²."
        ),
    )

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        if not self.errors and self.has_changed():
            try:
                self.facts = self._facts(cleaned)
            except InputError as problem:
                self.refuse(problem)
        return cleaned

    @staticmethod
    def _facts(cleaned: Mapping[str, Any]) -> CriterionFacts:
        lowest, highest = cleaned.get("lowest"), cleaned.get("highest")
        return CriterionFacts(
            name=cleaned["name"],
            scale=cleaned["scale"],
            lowest=1000 * (0 if lowest is None else lowest),
            highest=1000 * (10 if highest is None else highest),
            words=[word.strip() for word in cleaned["words"].splitlines() if word.strip()],
            unit=cleaned["unit"],
            low_is_better=cleaned["low_is_better"],
            margin=cleaned.get("margin"),
        )


Criteria = rows_of(CriterionForm, at_most=MOST_CRITERIA)


class ComparisonNameForm(RowForm):
    """The name and the notes of a comparison; the rest is fixed once it is started."""

    notes = NotesField()

    class Meta:
        model = Comparison
        fields = ("name", "notes")
        labels = {"name": gettext_lazy("Name")}


NAMES_ARM = ("arm", "hands", "colour_order", "poured_at")  # what would tell which arm a pour is in


class PourPlaceForm(StudioForm):
    """Which arm one pour is in, and what its session does not record of it.

    Of a pour that is placed, nothing that would tell its arm where that `is_hidden`.
    """

    arm = forms.TypedChoiceField(label=gettext_lazy("Arm"), required=False, coerce=int, empty_value=None)
    hands = forms.CharField(label=gettext_lazy("Poured by"), required=False, max_length=60)
    colour_order = forms.CharField(
        label=gettext_lazy("Order of the colours"),
        required=False,
        max_length=120,
        help_text=gettext_lazy("Such as “white, blue, gold”."),
    )
    poured_at = forms.TimeField(
        label=gettext_lazy("Poured at"),
        required=False,
        widget=forms.TimeInput(attrs={"type": "time"}, format="%H:%M"),
    )
    left_out = forms.CharField(
        label=gettext_lazy("Leave out because"),
        required=False,
        max_length=120,
        help_text=gettext_lazy("Such as “dropped”. It is not judged, and the report says why."),
    )

    def __init__(
        self,
        *args: Any,
        pour: Pour,
        arms: Iterable[ComparisonArm],
        compared: ComparedPour | None = None,
        is_hidden: bool = False,
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.pour, self.arms = pour, {arm.pk: arm for arm in arms}
        self.hidden = compared if is_hidden else None
        if self.hidden is not None:
            for name in NAMES_ARM:
                del self.fields[name]
            return
        arm = self.fields["arm"]
        if isinstance(arm, forms.ChoiceField):
            blank = [] if compared else [("", _("Not in this comparison"))]
            arm.choices = [*blank, *((each.pk, each.name) for each in self.arms.values())]

    @property
    def says_more(self) -> bool:
        return any(self[name].value() for name in self.fields if name != "arm") or bool(self.errors)

    @property
    def more_fields(self) -> list[BoundField]:
        return [self[name] for name in self.fields if name != "arm"]

    @staticmethod
    def values_of(compared: ComparedPour | None, pour: Pour, arms: Mapping[str, int]) -> dict[str, Any]:
        """What is recorded of a pour in the comparison; for a new one, the arm that its note names."""
        if compared is None:
            return {"arm": arms.get(pour.arm)}
        return {
            "arm": compared.arm_id,
            "hands": compared.hands,
            "colour_order": compared.colour_order,
            "left_out": compared.left_out,
            "poured_at": compared.poured_at,
        }

    def placement(self, for_all: Mapping[str, str]) -> Placement | None:
        """Where the pour goes; what is left blank is as `for_all` says. None where it is in no arm."""
        cleaned, hidden = self.cleaned_data, self.hidden
        if hidden is not None:
            return Placement(
                hidden.arm,
                self.pour,
                hands=hidden.hands or for_all["hands"],
                colour_order=hidden.colour_order or for_all["colour_order"],
                left_out=cleaned["left_out"],
                poured_at=hidden.poured_at,
            )
        if cleaned["arm"] is None:
            return None
        return Placement(
            self.arms[cleaned["arm"]],
            self.pour,
            hands=cleaned["hands"] or for_all["hands"],
            colour_order=cleaned["colour_order"] or for_all["colour_order"],
            left_out=cleaned["left_out"],
            poured_at=cleaned["poured_at"],
        )


class ForAllForm(StudioForm):
    """What holds of all pours in an arm that say nothing of their own."""

    hands = forms.CharField(label=gettext_lazy("All poured by"), required=False, max_length=60)
    colour_order = forms.CharField(
        label=gettext_lazy("Order of the colours in all"), required=False, max_length=120
    )
