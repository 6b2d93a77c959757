"""Rows of alike pours, as they are typed at the bench; and what is learnt and photographed afterwards."""

from collections.abc import Iterator, Mapping, Sequence
from functools import partial
from itertools import accumulate, pairwise
from typing import Any, cast

from django import forms
from django.forms import BoundField
from django.utils.translation import gettext_lazy

from inventory.errors import InventoryError
from inventory.materials.choices import MaterialChoice
from inventory.recipes.forms.choices import FormChoices, offer
from inventory.recipes.forms.cups import MOST_CUPS, CupForm
from inventory.recipes.forms.new_surfaces import NewSurfaceForm
from inventory.sessions.actions.sessions import Dose, PourFacts
from inventory.sessions.forms.suggestions import RESTS_ON, RestsOn
from inventory.sessions.forms.weighings import Amounts, WeighedForm, density_in
from inventory.sessions.models import Pour, Stage
from studio.errors import InputError, MeniscusError
from studio.pages.forms import (
    AmountStepper,
    CountStepper,
    EditForm,
    NotesField,
    QuantityField,
    StudioForm,
    mark_decimals,
)
from studio.pages.formsets import Rows
from studio.translation import _, ngettext
from studio.values.allocation import allocate
from studio.values.numbers import read_small_whole
from studio.values.quantities import volume_of
from studio.values.units import Measure

# Own choice: bounds that no session comes to.
MOST_ALIKE = 999
MOST_ROWS = 200


class PhotoField(forms.FileField):
    """A picture from the camera of a phone, or a file on a desk. Cleans to the file as it was sent, or None.

    What is in the file is judged when it is stored, and never stands in a session's way.
    """

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("required", False)
        kwargs.setdefault("label", gettext_lazy("Photo"))
        camera = {"accept": "image/*", "capture": "environment"}
        super().__init__(widget=forms.FileInput(attrs=camera), **kwargs)

    def clean(self, data: Any, initial: Any = None) -> Any:
        return data or None


_SUGGESTED_FROM: Mapping[str, Any] = {
    RestsOn.OWN_POURS: gettext_lazy("Suggested from your own pours."),
    RestsOn.TECHNIQUE: gettext_lazy("Rule of thumb for this technique."),
    RestsOn.CUPS: gettext_lazy("What the cups hold, shared by area."),
}


class PourForm(NewSurfaceForm, WeighedForm):
    """So many alike surfaces: what was poured on each, and how they turned out."""

    figures: Any = None

    alike = forms.IntegerField(
        label=gettext_lazy("How many"), initial=1, min_value=1, max_value=MOST_ALIKE, widget=CountStepper
    )
    surface = MaterialChoice(
        label=gettext_lazy("Surface"),
        error_messages={"required": gettext_lazy("Choose the surface it was poured on.")},
    )
    technique = forms.TypedChoiceField(
        label=gettext_lazy("Technique"),
        coerce=int,
        empty_value=None,
        error_messages={"required": gettext_lazy("Choose the technique.")},
    )
    each = forms.CharField(
        label=gettext_lazy("Poured per surface"),
        error_messages={"required": gettext_lazy("Enter how much was poured on each, such as 180 ml.")},
        max_length=60,
        widget=AmountStepper(attrs={"placeholder": "180 ml"}),
        help_text=gettext_lazy("Run-off is included; the amount is split across the cups in proportion."),
    )
    suggested = forms.CharField(required=False, max_length=60, widget=forms.HiddenInput)
    run_off = forms.CharField(
        label=gettext_lazy("Total run-off"),
        required=False,
        max_length=60,
        widget=AmountStepper,
        help_text=gettext_lazy("Part of what was poured: what the tray caught."),
    )
    failed = forms.IntegerField(
        label=gettext_lazy("How many failed"),
        required=False,
        initial=0,
        min_value=0,
        max_value=MOST_ALIKE,
        widget=CountStepper,
    )
    arm = forms.CharField(
        label=gettext_lazy("Comparison"),
        required=False,
        max_length=60,
        help_text=gettext_lazy(
            "What is different about these? A comparison takes it up as an arm. For example: “white first”."
        ),
    )
    over = forms.TypedChoiceField(
        label=gettext_lazy("Poured over a failed pour"),
        required=False,
        coerce=int,
        empty_value=None,
        help_text=gettext_lazy("Instead of a new surface: the surface is charged once."),
    )
    notes = NotesField(rows=2)
    photo = PhotoField(label=gettext_lazy("Photo"))

    def __init__(
        self,
        *args: Any,
        form_choices: FormChoices,
        cup_names: Sequence[str] = (),
        is_pattern: bool = False,
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.form_choices = form_choices
        if reason := _SUGGESTED_FROM.get(str(self.data.get(self.add_prefix(RESTS_ON), ""))):
            self.fields["each"].help_text = f"{reason} {self.fields['each'].help_text}"
        # A script gives the pattern its other cups, and names them.
        self.cups_in_sight = 1 if is_pattern else max(len(cup_names), 1)
        self.cup_numbers = range(1, max(self.cups_in_sight, self._last_cup_sent()) + 1)
        for number in self.cup_numbers:
            name = cup_names[number - 1] if number <= len(cup_names) else ""
            label = _("Cup {n}: {name}", n=number, name=name) if name else _("Cup {n}", n=number)
            self.fields[f"cup_{number}"] = forms.CharField(
                label=label, required=False, max_length=60, widget=AmountStepper
            )
        mark_decimals(self)
        if self.is_bound:
            self.fields["surface"].required = not self._sent("over")
            amounts = ["cups_before", "cups_after", *(field.name for field in self.cup_fields)]
            # Without a technique nothing could be suggested yet: choosing it fills the amount in.
            can_suggest = self._sent("technique")
            self.fields["each"].required = can_suggest and not any(self._sent(name) for name in amounts)
        self.offer_new(form_choices.new_surfaces)
        if is_pattern:
            self.fields["technique"].widget.attrs["data-usual"] = form_choices.usual_technique
        else:
            self._offer()

    def _offer(self) -> None:
        choices = self.form_choices
        offer(self, "surface", choices.surfaces, choices.surface_choices)
        failed = [(pk, f"{pour}, {pour.surface}, {pour.session}") for pk, pour in choices.failed.items()]
        for name, offered in (
            ("technique", choices.technique_choices),
            ("over", [("", _("No, a new surface")), *failed]),
        ):
            cast("forms.ChoiceField", self.fields[name]).choices = offered

    @property
    def main_fields(self) -> list[BoundField]:
        return [self[name] for name in ("alike", "surface", "technique", "each")]

    @property
    def words(self) -> str:
        """The row in one line, as far as it was typed."""
        chosen = self.form_choices
        surface = chosen.surfaces.get(read_small_whole(str(self["surface"].value() or "")) or 0)
        poured_as = chosen.techniques.get(read_small_whole(str(self["technique"].value() or "")) or 0)
        alike = f"{self['alike'].value()} × {surface}" if surface else ""
        technique = poured_as.name if poured_as else ""
        return ", ".join(filter(None, (alike, technique, self["each"].value())))

    @property
    def cup_fields(self) -> list[BoundField]:
        return [self[f"cup_{number}"] for number in self.cup_numbers]

    @property
    def cup_columns(self) -> list[tuple[int, BoundField]]:
        """A field for each cup of the form, and for every other one that holds a value."""
        return [
            (number, field)
            for number, field in enumerate(self.cup_fields, start=1)
            if number <= self.cups_in_sight or field.value() or field.errors
        ]

    @property
    def more_fields(self) -> list[BoundField]:
        return [self[name] for name in ("run_off", "failed", "arm", "over", "notes")]

    @property
    def says_cups(self) -> bool:
        """Whether amounts from single cups stand in the row, or must be put right."""
        return any(field.value() or field.errors for field in self.cup_fields)

    @property
    def says_more(self) -> bool:
        return any(field.value() not in (None, "", 0, "0") or field.errors for field in self.more_fields)

    def has_changed(self) -> bool:
        """A technique alone says nothing: a new row begins with the one used last."""
        return any(name != "technique" for name in self.changed_data)

    @property
    def says_folded(self) -> bool:
        """Whether anything beside the main fields holds something, or must be put right."""
        return self.says_cups or self.says_more or self.says_weights or bool(self["photo"].errors)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        if not self.has_changed():
            return cleaned
        alike, failed = cleaned.get("alike"), cleaned.get("failed") or 0
        if alike is not None and failed > alike:
            too_many = ngettext("There is only {n} of them.", "There are only {n} of them.", alike, n=alike)
            self.add_error("failed", too_many)
        if cleaned.get("over") and alike != 1:
            self.add_error(
                "over", _("Only one surface can cover a failed pour. Use a separate row for the others.")
            )
        self.read_weights()
        return cleaned

    def refuse(self, problem: MeniscusError, **formsets: Rows) -> None:
        """What is wrong with the paint of a pour is told where its amount is typed."""
        if isinstance(problem, InputError) and problem.field in ("doses", "quantity"):
            problem = InputError(str(problem), field="each")
        super().refuse(problem, **formsets)

    def pours(self, cups: Sequence[CupForm]) -> list[PourFacts]:
        """The pours of this row, one by one. Raises MeniscusError for amounts that do not fit the cups."""
        cleaned = self.cleaned_data
        alike, failed = cleaned["alike"], cleaned.get("failed") or 0
        typed = [number for number in self.cup_numbers if cleaned.get(f"cup_{number}")]
        poured = self._by_cup(cups, typed) if typed else self._by_total(cups)
        run_off = self.run_off_in([pair for amounts in poured for pair in amounts])
        run_offs: Sequence[int | None] = [None] * alike if run_off is None else allocate(run_off, [1] * alike)
        return [
            PourFacts(
                technique=self.form_choices.techniques[cleaned["technique"]],
                doses=[_dose(cups, cup, amount) for cup, amount in amounts if amount],
                surface=cleaned.get("surface"),
                over=self.form_choices.failed.get(cleaned.get("over") or 0),
                run_off=caught,
                outcome=Pour.Outcome.FAILED if number > alike - failed else Pour.Outcome.OPEN,
                arm=cleaned.get("arm", ""),
                notes=cleaned.get("notes", ""),
            )
            for number, (amounts, caught) in enumerate(zip(poured, run_offs, strict=True), start=1)
        ]

    def _by_cup(self, cups: Sequence[CupForm], typed: Sequence[int]) -> list[Amounts]:
        """The same amounts from each cup on every surface of the row."""
        amounts: Amounts = []
        for number in typed:
            cup = cups[number - 1] if number <= len(cups) else None
            if cup is None or cup.makes is None:
                raise InputError(
                    _("Cup {n} is not used. Enter its contents first.", n=number), field=f"cup_{number}"
                )
            read = self.read_paint(
                f"cup_{number}", partial(density_in, [(cup, 1)]), measure=cup.makes.measure
            )
            amounts.append((cup, read or 0))
        if self.cleaned_data.get("each") and not self.errors:
            volumes = [(cup, cup.volume_of(amount)) for cup, amount in amounts]
            each, total = self._each(volumes), sum(volume for _cup, volume in volumes)
            if each not in (None, total):
                amount = self.formatter.quantity(total, Measure.VOLUME)
                raise InputError(
                    _(
                        "The cups add up to {amount}. Correct one of them, or leave this blank.",
                        amount=amount,
                    ),
                    field="each",
                )
        return [amounts] * int(self.cleaned_data["alike"])

    def _by_total(self, cups: Sequence[CupForm]) -> list[Amounts]:
        """One amount per surface, taken from the cups in proportion to what is in them."""
        alike = self.cleaned_data["alike"]
        used = [(number, cup) for number, cup in enumerate(cups, start=1) if cup.makes is not None]
        if not used:
            raise InputError(_("No cup is used. Enter above what was in the cups."), field="each")
        weights = _weights(used)
        each = self._each([(cup, weight) for (_n, cup), weight in zip(used, weights, strict=True)])
        if each is None:
            return [[]] * alike
        return [
            [(cup, cup.amount_of(part)) for (_n, cup), part in zip(used, parts, strict=True)]
            for parts in spread(each, alike, weights)
        ]

    def _each(self, volumes: Amounts) -> int | None:
        """What was poured on each surface, by its weight too; `volumes` say in what proportion from the cups."""
        if self.readings is not None and self.readings.poured is not None:
            total = volume_of(self.readings.poured, density_in(volumes))
            return total // int(self.cleaned_data["alike"])
        return self.read_paint("each", lambda: density_in(volumes), allow_zero=False)

    def _last_cup_sent(self) -> int:
        """The last cup that an amount was sent for; 0 for none."""
        if not self.is_bound:
            return 0
        return max((number for number in range(1, MOST_CUPS + 1) if self._sent(f"cup_{number}")), default=0)

    def _sent(self, name: str) -> bool:
        return bool(str(self.data.get(self.add_prefix(name), "")).strip())


def spread(each: int, alike: int, weights: Sequence[int]) -> Iterator[list[int]]:
    """Share the same amount over cups for each of so many alike surfaces.

    Every surface gets exactly `each`, and over all surfaces no cup gives more than its proportion, to the
    thousandth: shares are differences of running totals, so roundings do not pile up.
    """
    whole = sum(weights)
    if whole <= 0:
        raise InventoryError(_("The cups are empty. Enter above how much was in them."))
    borders = [0, *accumulate(weights)]

    def running(surfaces: int) -> list[int]:
        return [each * surfaces * border // whole for border in borders]

    for before, after in pairwise(map(running, range(alike + 1))):
        grown = [now - then for then, now in zip(before, after, strict=True)]
        yield [upper - lower for lower, upper in pairwise(grown)]


def _weights(used: Sequence[tuple[int, CupForm]]) -> list[int]:
    """What is in each cup that is used; one alone that was filled from a bottle gives all, so it need not say."""
    if len(used) == 1 and used[0][1].ready is not None:
        return [1]
    for number, cup in used:
        if cup.amount is None:
            raise InputError(
                _("In cup {n}, enter how much was in it, or enter the amount from each cup.", n=number),
                field="each",
            )
    return [cup.volume_of(cup.amount or 0) for _number, cup in used]


def _dose(cups: Sequence[CupForm], cup: CupForm, amount: int) -> Dose:
    if cup.facts is None:
        return Dose(amount, material=cup.makes, lot=cup.lot)
    return Dose(amount, mix=[each for each in cups if each.facts is not None].index(cup))


class PourAmendment(EditForm):
    """What is learnt about a pour after its session."""

    run_off = QuantityField(
        label=gettext_lazy("Run-off"),
        measure=Measure.VOLUME,
        allow_zero=True,
        required=False,
        help_text=gettext_lazy("Part of what was poured, in mL or, if you weighed the wet tray, in g."),
    )
    notes = NotesField()

    def __init__(self, *args: Any, density: int | None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        run_off = self.fields["run_off"]
        if isinstance(run_off, QuantityField):
            run_off.density = density

    @classmethod
    def values_of(cls, pour: Pour, *, seen: int) -> dict[str, Any]:
        return {"seen": seen, "run_off": pour.run_off, "notes": pour.notes}


class SessionPhotoForm(StudioForm):
    """One more photo for a session that stands: of one of its pours, or of the whole table."""

    photo = PhotoField(help_text=gettext_lazy("Up to 10 MB. Location data is removed from the file."))
    stage = forms.ChoiceField(label=gettext_lazy("Wet or dry"), choices=Stage.choices, required=False)
    pour = forms.TypedChoiceField(
        label=gettext_lazy("What it shows"), required=False, coerce=int, empty_value=None
    )

    def __init__(self, *args: Any, pours: list[Pour], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        pour = self.fields["pour"]
        if isinstance(pour, forms.ChoiceField):
            pour.choices = [("", _("The whole table")), *((pour.pk, pour.label) for pour in pours)]
