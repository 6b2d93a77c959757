"""Rows of alike pours, and of sundries, as they are typed at the bench."""

from collections.abc import Iterator, Sequence
from itertools import accumulate, pairwise
from typing import Any

from django import forms
from django.forms import BoundField

from inventory import mixes
from inventory.errors import InventoryError
from inventory.forms.bench import Bench
from inventory.forms.choices import MaterialChoice
from inventory.forms.cups import MOST_CUPS, CupForm
from inventory.mixes import Ingredient
from inventory.models import Material, Pour, Technique
from inventory.sessions import Dose, PourFacts
from studio.errors import InputError
from studio.forms import StudioForm
from studio.quantities import mass_of
from studio.sharing import share
from studio.units import Measure

MOST_ALIKE = 60
MOST_ROWS = 20


class PourForm(StudioForm):
    """So many alike surfaces: what was poured on each, and how they turned out."""

    alike = forms.IntegerField(label="How many alike", initial=1, min_value=1, max_value=MOST_ALIKE)
    surface = MaterialChoice(error_messages={"required": "Choose the surface it was poured on."})
    technique = forms.TypedChoiceField(
        coerce=int, empty_value=None, error_messages={"required": "Choose how it was poured."}
    )
    each = forms.CharField(
        label="Poured on each",
        error_messages={"required": "Say how much was poured on each, such as 180 ml."},
        max_length=60,
        help_text="Run-off included. Shared over the cups by what is in them.",
    )
    run_off = forms.CharField(
        label="Run-off of all of them",
        required=False,
        max_length=60,
        help_text="Part of what was poured; what the tray caught.",
    )
    failed = forms.IntegerField(
        label="How many failed", required=False, initial=0, min_value=0, max_value=MOST_ALIKE
    )
    arm = forms.CharField(
        label="Comparison",
        required=False,
        max_length=60,
        help_text="What differs in these: “new medium”. They are set against the others.",
    )
    over = forms.TypedChoiceField(
        label="Poured over a failed one",
        required=False,
        coerce=int,
        empty_value=None,
        help_text="Instead of a fresh surface: the surface is charged once.",
    )
    notes = forms.CharField(required=False, max_length=2000, widget=forms.Textarea(attrs={"rows": 2}))

    def __init__(self, *args: Any, bench: Bench, cup_names: Sequence[str] = (), **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.bench = bench
        self.fields["each"].widget.attrs["placeholder"] = "180 ml"
        for number in range(1, MOST_CUPS + 1):
            name = cup_names[number - 1] if number <= len(cup_names) else ""
            label = f"Cup {number}: {name}" if name else f"Cup {number}"
            self.fields[f"cup_{number}"] = forms.CharField(label=label, required=False, max_length=60)
        if self.is_bound:
            self.fields["surface"].required = not self._sent("over")
            self.fields["each"].required = not any(self._sent(field.name) for field in self.cup_fields)
        surface, technique, over = self.fields["surface"], self.fields["technique"], self.fields["over"]
        if isinstance(surface, MaterialChoice):
            surface.offer(bench.surfaces, bench.surface_choices)
        if isinstance(technique, forms.ChoiceField) and isinstance(over, forms.ChoiceField):
            technique.choices = [("", "Choose…"), *((pk, item.name) for pk, item in bench.techniques.items())]
            over.choices = [
                ("", "No, a fresh surface"),
                *((pk, _failed(pour)) for pk, pour in bench.failed.items()),
            ]

    @property
    def main_fields(self) -> list[BoundField]:
        return [self[name] for name in ("alike", "surface", "technique", "each")]

    @property
    def cup_fields(self) -> list[BoundField]:
        return [self[f"cup_{number}"] for number in range(1, MOST_CUPS + 1)]

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
            self.add_error("failed", f"There are only {alike} of them.")
        if cleaned.get("over") and alike != 1:
            self.add_error(
                "over", "Only one surface can lie over a failed one. Give the others a row of their own."
            )
        if cleaned.get("over") and cleaned.get("surface"):
            self.add_error("surface", "Choose either a fresh surface or the failed one it covers.")
        return cleaned

    def pours(self, cups: Sequence[CupForm]) -> list[PourFacts]:
        """The pours of this row, one by one. Raises MeniscusError for amounts that do not fit the cups."""
        alike, failed = self.cleaned_data["alike"], self.cleaned_data.get("failed") or 0
        run_off = self.read_amount("run_off", Measure.VOLUME, allow_zero=True)
        run_offs: Sequence[int | None] = [None] * alike if run_off is None else share(run_off, [1] * alike)
        poured = self._by_cup(cups) if self._typed_cups() else self._by_total(cups, alike)
        over = self.bench.failed.get(self.cleaned_data.get("over") or 0)
        return [
            PourFacts(
                technique=self._technique(),
                doses=[dose for dose in doses if dose.quantity > 0],
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
                raise InputError(f"Cup {number} is not used. Say what is in it first.", field=f"cup_{number}")
            read = self.read_amount(f"cup_{number}", makes.measure, density=makes.density, allow_zero=True)
            amounts[number] = read or 0
        self._refuse_other_total(cups, amounts)
        doses = [_dose(cups, number, amount) for number, amount in amounts.items()]
        return [doses] * int(self.cleaned_data["alike"])

    def _refuse_other_total(self, cups: Sequence[CupForm], amounts: dict[int, int]) -> None:
        if not self.cleaned_data.get("each") or self.errors:
            return
        said = self.read_amount("each", Measure.VOLUME)
        total = sum(_volume(cups[number - 1], amount) for number, amount in amounts.items())
        if said is not None and said != total:
            came_to = self.shown.quantity(total, Measure.VOLUME)
            raise InputError(
                f"The cups come to {came_to}. Correct one of them, or leave this empty.", field="each"
            )

    def _by_total(self, cups: Sequence[CupForm], alike: int) -> list[list[Dose]]:
        """One amount per surface, taken from the cups in proportion to what is in them."""
        each = self.read_amount("each", Measure.VOLUME)
        if each is None:
            return [[]] * alike
        used = [number for number, cup in enumerate(cups, start=1) if cup.makes is not None]
        unknown = [number for number in used if cups[number - 1].amount is None]
        if not used:
            raise InputError("No cup is used. Say above what was in the cups.", field="each")
        if unknown:
            raise InputError(
                f"Say in cup {unknown[0]} how much was in it, or enter the amount from each cup.",
                field="each",
            )
        weights = [_volume(cups[number - 1], cups[number - 1].amount or 0) for number in used]
        return [
            [
                _dose(cups, number, _own(cups[number - 1], part))
                for number, part in zip(used, parts, strict=True)
            ]
            for parts in spread(each, alike, weights)
        ]

    def _sent(self, name: str) -> bool:
        return bool(str(self.data.get(self.add_prefix(name), "")).strip())

    def _technique(self) -> Technique:
        return self.bench.techniques[self.cleaned_data["technique"]]


class SundryForm(StudioForm):
    """Gloves, towels and the like, charged to every pour alike."""

    material = MaterialChoice(label="Sundry", error_messages={"required": "Choose what was used."})
    amount = forms.CharField(
        label="How many or how much",
        max_length=60,
        error_messages={"required": "Say how many or how much was used."},
    )

    def __init__(self, *args: Any, bench: Bench, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        material = self.fields["material"]
        if isinstance(material, MaterialChoice):
            material.offer(bench.sundries, bench.sundry_choices)
        self.item: Ingredient | None = None

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        material, typed = cleaned.get("material"), cleaned.get("amount")
        if typed and material is not None:
            amount = self.read_amount("amount", material.measure, density=material.density)
            self.item = Ingredient(material, amount) if amount else None
        return cleaned


def spread(each: int, alike: int, weights: Sequence[int]) -> Iterator[list[int]]:
    """Share the same amount over cups for each of so many alike surfaces.

    Every surface gets exactly `each`, and over all surfaces no cup gives more than its proportion, to the
    thousandth: shares are differences of running totals, so roundings do not pile up.
    """
    whole = sum(weights)
    if whole <= 0:
        raise InventoryError("The cups hold nothing yet. Say above how much was in them.")
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
        raise InventoryError("Say what is in the cup first.")
    return cup.makes


def _failed(pour: Pour) -> str:
    return f"{pour.label}, {pour.surface.name}, {pour.session}"
