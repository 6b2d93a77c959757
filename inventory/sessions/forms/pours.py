"""Rows of alike pours, as they are typed at the bench."""

from collections.abc import Iterator, Sequence
from itertools import accumulate, pairwise
from typing import Any

from django import forms
from django.forms import BoundField
from django.utils.translation import gettext_lazy

from inventory.errors import InventoryError
from inventory.materials.choices import MaterialChoice
from inventory.materials.models import Material
from inventory.recipes.actions import mixes
from inventory.recipes.forms.choices import FormChoices
from inventory.recipes.forms.cups import MOST_CUPS, CupForm
from inventory.sessions.actions.sessions import Dose, PourFacts
from inventory.sessions.forms.photos import PhotoField
from inventory.sessions.models import Pour, Technique
from studio.errors import InputError, MeniscusError
from studio.pages.forms import StudioForm
from studio.pages.formsets import Rows
from studio.pages.steppers import AmountStepper, CountStepper, mark_decimals
from studio.translation import _, ngettext
from studio.values.allocation import allocate
from studio.values.quantities import mass_of
from studio.values.units import Measure

MOST_ALIKE = 60
MOST_ROWS = 20


class PourForm(StudioForm):
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
        help_text=gettext_lazy("Including run-off. Split across the cups in proportion."),
    )
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
            "What is different about these? They will be compared with the rest. For example: “white first”."
        ),
    )
    over = forms.TypedChoiceField(
        label=gettext_lazy("Poured over a failed pour"),
        required=False,
        coerce=int,
        empty_value=None,
        help_text=gettext_lazy("Instead of a new surface: the surface is charged once."),
    )
    notes = forms.CharField(
        label=gettext_lazy("Notes"), required=False, max_length=2000, widget=forms.Textarea(attrs={"rows": 2})
    )
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
        # A script gives the pattern its other cups, and names them.
        self.cups_in_sight = 1 if is_pattern else max(len(cup_names), 1)
        for number in range(1, MOST_CUPS + 1):
            name = cup_names[number - 1] if number <= len(cup_names) else ""
            label = _("Cup {n}: {name}", n=number, name=name) if name else _("Cup {n}", n=number)
            self.fields[f"cup_{number}"] = forms.CharField(
                label=label, required=False, max_length=60, widget=AmountStepper
            )
        mark_decimals(self)
        if self.is_bound:
            self.fields["surface"].required = not self._sent("over")
            self.fields["each"].required = not any(self._sent(field.name) for field in self.cup_fields)
        if not is_pattern:
            self._offer()

    def _offer(self) -> None:
        surface, technique, over = self.fields["surface"], self.fields["technique"], self.fields["over"]
        if isinstance(surface, MaterialChoice):
            surface.offer(self.form_choices.surfaces, self.form_choices.surface_choices)
        if isinstance(technique, forms.ChoiceField) and isinstance(over, forms.ChoiceField):
            technique.choices = [
                ("", _("Choose…")),
                *((pk, item.name) for pk, item in self.form_choices.techniques.items()),
            ]
            over.choices = [
                ("", _("No, a new surface")),
                *((pk, _failed(pour)) for pk, pour in self.form_choices.failed.items()),
            ]

    @property
    def main_fields(self) -> list[BoundField]:
        return [self[name] for name in ("alike", "surface", "technique", "each")]

    @property
    def cup_fields(self) -> list[BoundField]:
        return [self[f"cup_{number}"] for number in range(1, MOST_CUPS + 1)]

    @property
    def cup_columns(self) -> list[tuple[int, BoundField]]:
        """A field for each cup of the form, and for those that say something all the same."""
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
        return cleaned

    def refuse(self, problem: MeniscusError, **formsets: Rows) -> None:
        """What is wrong with the paint of a pour is told where its amount is typed."""
        if isinstance(problem, InputError) and problem.field in ("doses", "quantity"):
            problem = InputError(str(problem), field="each")
        super().refuse(problem, **formsets)

    def pours(self, cups: Sequence[CupForm]) -> list[PourFacts]:
        """The pours of this row, one by one. Raises MeniscusError for amounts that do not fit the cups."""
        alike, failed = self.cleaned_data["alike"], self.cleaned_data.get("failed") or 0
        run_off = self.read_amount("run_off", Measure.VOLUME, allow_zero=True)
        run_offs: Sequence[int | None] = [None] * alike if run_off is None else allocate(run_off, [1] * alike)
        poured = self._by_cup(cups) if self._typed_cups() else self._by_total(cups, alike)
        over = self.form_choices.failed.get(self.cleaned_data.get("over") or 0)
        return [
            PourFacts(
                technique=self._technique(),
                doses=doses,
                surface=self.cleaned_data.get("surface"),
                over=over,
                run_off=caught,
                outcome=Pour.Outcome.FAILED if number > alike - failed else Pour.Outcome.GOOD,
                arm=self.cleaned_data.get("arm", ""),
                notes=self.cleaned_data.get("notes", ""),
            )
            for number, (doses, caught) in enumerate(zip(poured, run_offs, strict=True), start=1)
        ]

    def _typed_cups(self) -> dict[int, str]:
        typed = {number: self.cleaned_data.get(f"cup_{number}", "") for number in range(1, MOST_CUPS + 1)}
        return {number: text for number, text in typed.items() if text}

    def _by_cup(self, cups: Sequence[CupForm]) -> list[list[Dose]]:
        """The same amounts from each cup on every surface of the row."""
        amounts: dict[int, int] = {}
        for number in self._typed_cups():
            makes = cups[number - 1].makes if number <= len(cups) else None
            if makes is None:
                raise InputError(
                    _("Cup {n} is not used. Enter its contents first.", n=number), field=f"cup_{number}"
                )
            read = self.read_amount(f"cup_{number}", makes.measure, density=makes.density, allow_zero=True)
            amounts[number] = read or 0
        self._refuse_other_total(cups, amounts)
        doses = [_dose(cups, number, amount) for number, amount in amounts.items() if amount]
        return [doses] * int(self.cleaned_data["alike"])

    def _refuse_other_total(self, cups: Sequence[CupForm], amounts: dict[int, int]) -> None:
        if not self.cleaned_data.get("each") or self.errors:
            return
        each = self.read_amount("each", Measure.VOLUME)
        total = sum(_volume(cups[number - 1], amount) for number, amount in amounts.items())
        if each is not None and each != total:
            amount = self.formatter.quantity(total, Measure.VOLUME)
            raise InputError(
                _("The cups add up to {amount}. Correct one of them, or leave this blank.", amount=amount),
                field="each",
            )

    def _by_total(self, cups: Sequence[CupForm], alike: int) -> list[list[Dose]]:
        """One amount per surface, taken from the cups in proportion to what is in them."""
        each = self.read_amount("each", Measure.VOLUME)
        if each is None:
            return [[]] * alike
        used = [number for number, cup in enumerate(cups, start=1) if cup.makes is not None]
        if not used:
            raise InputError(_("No cup is used. Enter above what was in the cups."), field="each")
        weights = self._weights(cups, used)
        return [
            [
                _dose(cups, number, amount)
                for number, part in zip(used, parts, strict=True)
                if (amount := _own(cups[number - 1], part))
            ]
            for parts in spread(each, alike, weights)
        ]

    def _weights(self, cups: Sequence[CupForm], used: Sequence[int]) -> list[int]:
        """What is in each cup that is used; one alone that was filled from a bottle gives all, so it need not say."""
        if len(used) == 1 and cups[used[0] - 1].ready is not None:
            return [1]
        for number in used:
            if cups[number - 1].amount is None:
                raise InputError(
                    _("In cup {n}, enter how much was in it, or enter the amount from each cup.", n=number),
                    field="each",
                )
        return [_volume(cups[number - 1], cups[number - 1].amount or 0) for number in used]

    def _sent(self, name: str) -> bool:
        return bool(str(self.data.get(self.add_prefix(name), "")).strip())

    def _technique(self) -> Technique:
        return self.form_choices.techniques[self.cleaned_data["technique"]]


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


def _dose(cups: Sequence[CupForm], number: int, amount: int) -> Dose:
    cup = cups[number - 1]
    if cup.facts is None:
        return Dose(amount, material=cup.makes, lot=cup.lot)
    position = sum(1 for earlier in cups[: number - 1] if earlier.facts is not None)
    return Dose(amount, mix=position)


def _volume(cup: CupForm, amount: int) -> int:
    return mixes.in_measure(_in(cup), amount, Measure.VOLUME)


def _own(cup: CupForm, volume: int) -> int:
    """A volume in the measure of what the cup holds."""
    makes = _in(cup)
    if makes.measure == Measure.MASS and makes.density is not None:
        return mass_of(volume, makes.density)
    return volume


def _in(cup: CupForm) -> Material:
    if cup.makes is None:
        raise InventoryError(_("Choose what is in the cup first."))
    return cup.makes


def _failed(pour: Pour) -> str:
    return f"{pour.label}, {pour.surface.name}, {pour.session}"
