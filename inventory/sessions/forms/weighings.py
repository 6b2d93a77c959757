"""What the scale showed for a row of pours, as it is typed; and amounts of paint in grams or millilitres."""

from collections.abc import Callable, Collection, Sequence
from functools import partial
from typing import Any, cast

from django import forms
from django.forms import BoundField
from django.utils.translation import gettext_lazy

from inventory.comparisons.queries.blinding import HiddenArms, hidden_arms
from inventory.recipes.forms.cups import CupForm
from inventory.sessions.actions.weighing_later import WeighedPoursFacts
from inventory.sessions.models import Pour, Session
from inventory.sessions.weighing import Readings, blended_density
from studio.errors import InputError, MeniscusError
from studio.pages.forms import EditForm, Fieldset, StudioForm
from studio.translation import _
from studio.values.quantities import volume_of
from studio.values.units import Measure

Amounts = list[tuple[CupForm, int]]  # from each cup, in the measure of what it holds
WEIGHTS = (
    "cups_before",
    "cups_after",
    "tray_before",
    "tray_after",
    "drips",
    "surfaces_before",
    "surfaces_after",
)
SCALES = (10, 100, 1000)  # thousandths of a gram
# Any density tells whether a mass was typed.
ANY_DENSITY = 1_000_000


def _weight(label: Any, help_text: Any = "") -> forms.CharField:
    return forms.CharField(
        label=label,
        required=False,
        max_length=60,
        help_text=help_text,
        widget=forms.TextInput(attrs={"inputmode": "decimal", "placeholder": "412 g"}),
    )


class WeighedForm(StudioForm):
    """The weights of a row of pours. `readings` are there once they were read and make sense."""

    cups_before = _weight(gettext_lazy("Cups before pouring"))
    cups_after = _weight(gettext_lazy("Cups after pouring"))
    tray_before = _weight(gettext_lazy("Tray before"))
    tray_after = _weight(gettext_lazy("Tray after"))
    drips = _weight(
        gettext_lazy("Drips beside the tray"), gettext_lazy("Wiped off or scraped up: their weight alone.")
    )
    surfaces_before = _weight(gettext_lazy("Surfaces before"))
    surfaces_after = _weight(
        gettext_lazy("Surfaces after"), gettext_lazy("Wet. They show whether all paint is accounted for.")
    )
    scale_step = forms.ChoiceField(label=gettext_lazy("Scale precision"), required=False)
    weighing_minutes = forms.IntegerField(
        label=gettext_lazy("Minutes between first and last weight"),
        required=False,
        min_value=0,
        max_value=24 * 60,
        help_text=gettext_lazy("Wet paint dries as it waits. Blank counts as 15."),
    )
    readings: Readings | None = None

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        own = self.studio.scale_step
        steps = cast("forms.ChoiceField", self.fields["scale_step"])
        steps.choices = [
            # Left blank it is the studio's own.
            ("" if step == own else str(step), self.formatter.quantity(step, Measure.MASS))
            for step in sorted({*SCALES, own})
        ]

    @property
    def weight_fields(self) -> list[BoundField]:
        return [self[name] for name in (*WEIGHTS, "scale_step", "weighing_minutes")]

    @property
    def says_weights(self) -> bool:
        return any(self[name].value() or self[name].errors for name in (*WEIGHTS, "weighing_minutes"))

    def read_weights(self) -> None:
        """Read the weights, and refuse amounts that were typed besides; problems land on their fields."""
        weights = {name: self.read_amount(name, Measure.MASS, allow_zero=True) for name in WEIGHTS}
        if self.errors or all(weight is None for weight in weights.values()):
            return
        minutes = self.cleaned_data.get("weighing_minutes")
        try:
            self.readings = Readings(
                int(self.cleaned_data["scale_step"] or self.studio.scale_step), minutes=minutes, **weights
            )
        except InputError as problem:
            self.refuse(problem)
            return
        self._refuse_twice()

    def _refuse_twice(self) -> None:
        if self.readings is None:
            return
        poured = [name for name in self.fields if name == "each" or name.startswith("cup_")]
        for names, weighed, text in (
            (poured, self.readings.poured, _("Leave this blank: the weights of the cups say it already.")),
            (["run_off"], self.readings.ran_off, _("Leave this blank: the tray and drips say it already.")),
        ):
            for name in names:
                if weighed is not None and self.cleaned_data.get(name):
                    self.add_error(name, text)

    def read_paint(
        self,
        field: str,
        density: Callable[[], int],
        *,
        measure: str = Measure.VOLUME,
        allow_zero: bool = True,
    ) -> int | None:
        """Read an amount of paint in grams or millilitres; the density is asked for only where it is needed."""
        text = self.cleaned_data.get(field)
        if not text:
            return None
        try:
            reading = self.formatter.read(text, measure, density=ANY_DENSITY, allow_zero=allow_zero)
            if reading.unit.measure is not Measure(measure):
                reading = self.formatter.read(text, measure, density=density(), allow_zero=allow_zero)
        except MeniscusError as problem:
            self.add_error(field, str(problem))
            return None
        return reading.quantity.amount

    def run_off_in(self, poured: Sequence[tuple[CupForm, int]]) -> int | None:
        """The run-off of the row in thousandths of a mL, typed or weighed; None where it was not measured.

        Raises InventoryError naming what has no density where it was weighed.
        """
        volumes = [(cup, cup.volume_of(amount)) for cup, amount in poured]
        if self.readings is None or self.readings.ran_off is None:
            return self.read_paint("run_off", lambda: density_in(volumes))
        caught = volume_of(self.readings.ran_off, density_in(volumes))
        # By rounding alone the tray may show a step more than the cups.
        return min(caught, sum(volume for _cup, volume in volumes))


def density_in(volumes: Sequence[tuple[CupForm, int]]) -> int:
    """Density in µg/mL of so much volume from each cup together. Raises InventoryError naming what has none."""
    return blended_density([(volume, cup.density) for cup, volume in volumes if volume])


class WeighPoursForm(WeighedForm, EditForm):
    """The weights of pours that are logged already. Those not weighed yet are ticked to begin with, or else all."""

    fieldsets = (
        Fieldset("", ["pours", "take_back"]),
        Fieldset(gettext_lazy("What ran off"), ["tray_before", "tray_after", "drips"]),
        Fieldset(gettext_lazy("What stayed on"), ["surfaces_before", "surfaces_after"]),
        Fieldset(
            gettext_lazy("What left the cups"),
            ["cups_before", "cups_after"],
            gettext_lazy("They only show whether it adds up. What was logged as poured stays as it is."),
        ),
        Fieldset(gettext_lazy("The scale"), ["scale_step", "weighing_minutes"]),
    )
    pours = forms.ModelMultipleChoiceField(
        label=gettext_lazy("Weighed together"),
        queryset=Pour.objects.none(),
        widget=forms.CheckboxSelectMultiple,
        error_messages={"required": gettext_lazy("Tick the pours that were weighed together.")},
    )
    take_back = forms.BooleanField(
        label=gettext_lazy("Take the earlier weighing back"),
        required=False,
        help_text=gettext_lazy(
            "Where it takes in pours that are not ticked: what ran off those then counts as not measured."
        ),
    )

    def __init__(self, *args: Any, session: Session, only: Collection[int] = (), **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.session = session
        pours = session.pours.select_related("surface", "technique").order_by("number")
        choice = cast("forms.ModelMultipleChoiceField[Pour]", self.fields["pours"])
        choice.label_from_instance = partial(_described, hidden=hidden_arms())  # type: ignore[method-assign]
        choice.queryset = pours
        weighed = set(session.weighings.values_list("pours", flat=True))
        if not weighed:
            del self.fields["take_back"]
        keys = [pour.pk for pour in pours]
        choice.initial = list(only) or [pk for pk in keys if pk not in weighed] or keys

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        self.read_weights()
        return cleaned

    @property
    def facts(self) -> WeighedPoursFacts:
        """What a valid form says. Raises InputError."""
        typed = self.cleaned_data
        readings = self.readings or Readings(self.studio.scale_step)
        return WeighedPoursFacts(
            self.session, list(typed["pours"]), readings, take_back=typed.get("take_back", False)
        )


def _described(pour: Pour, hidden: HiddenArms) -> str:
    return ", ".join(filter(None, (pour.label, pour.surface.name, pour.technique.name, hidden.arm_of(pour))))
