"""Forms that put a session right: they open with what is recorded, as corrected so far."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any, cast

from django import forms
from django.utils.translation import gettext_lazy

from inventory.materials.choices import by_kind
from inventory.materials.models import Kind, Material
from inventory.recipes.actions.mixes import Ingredient, MixFacts
from inventory.recipes.actions.recipes import MIXABLE
from inventory.recipes.forms.batches import ShortfallForm
from inventory.recipes.models import Mix
from inventory.sessions.actions.sessions import Dose, PourFacts
from inventory.sessions.forms.sessions import SessionForm
from inventory.sessions.models import Pour, Technique
from inventory.sessions.queries.recorded import RecordedMix, RecordedPour
from studio.pages.forms import AmountStepper, EditForm, NotesField, StudioForm, mark_decimals
from studio.translation import _
from studio.values.units import Measure

MOST = 400
Choices = list[tuple[str, Any]]


class CorrectSessionForm(EditForm, ShortfallForm):
    """The day's own figures. `shown` names what the preview showed, so that nothing else can be posted unseen."""

    title = SessionForm.base_fields["title"]
    minutes = SessionForm.base_fields["minutes"]
    temperature = SessionForm.base_fields["temperature"]
    humidity = SessionForm.base_fields["humidity"]
    notes = NotesField(max_length=5000)
    reason = forms.CharField(
        label=gettext_lazy("Reason"),
        max_length=300,
        help_text=gettext_lazy(
            "For the ledger: the wrong bottle, a slip of the pen, a pour that was forgotten."
        ),
    )
    known = forms.CharField(widget=forms.HiddenInput, required=False)
    shown = forms.CharField(widget=forms.HiddenInput, required=False)
    confirm_gain = SessionForm.base_fields["confirm_gain"]

    DAY = ("title", "minutes", "temperature", "humidity", "notes")

    @property
    def day_fields(self) -> list[forms.BoundField]:
        return [self[name] for name in self.DAY]


class AmountRow(StudioForm):
    """A row with amounts; each is read in the measure of what it is an amount of."""

    def _amount_field(self, name: str, label: str) -> None:
        self.fields[name] = forms.CharField(label=label, required=False, max_length=60, widget=AmountStepper)


class PartRow(AmountRow):
    """One ingredient of a mix: of which material, and how much."""

    mix = forms.IntegerField(widget=forms.HiddenInput)
    material = forms.TypedChoiceField(
        label=gettext_lazy("Ingredient"), coerce=int, empty_value=None, required=False
    )
    amount = forms.CharField(
        label=gettext_lazy("Amount"), required=False, max_length=60, widget=AmountStepper
    )

    def __init__(self, *args: Any, offered: "Offered", **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.offered = offered
        _choose(self, "material", offered.mixable_choices(self.initial.get("material")))
        mark_decimals(self)
        self.item: Ingredient | None = None

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        self.item = _item_of(self, self.offered, cleaned)
        return cleaned


class SundryRow(PartRow):
    """Gloves and the like, charged to every pour alike."""

    mix = None  # type: ignore[assignment]

    def __init__(self, *args: Any, offered: "Offered", **kwargs: Any) -> None:
        super().__init__(*args, offered=offered, **kwargs)
        _choose(self, "material", offered.sundry_choices)
        self.fields["material"].label = _("Sundry")


class MixRow(AmountRow):
    """What came of a mix."""

    mix = forms.IntegerField(widget=forms.HiddenInput)
    measured = forms.CharField(
        label=gettext_lazy("Measured total"),
        required=False,
        max_length=60,
        widget=AmountStepper,
        help_text=gettext_lazy("Only if you measured the whole cup; otherwise the parts are added up."),
    )
    leftover = forms.ChoiceField(label=gettext_lazy("Leftover"), choices=Mix.Leftover.choices)

    def __init__(self, *args: Any, offered: "Offered", recorded: RecordedMix, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.offered, self.recorded = offered, recorded
        mark_decimals(self)
        self.parts: list[PartRow] = []
        self.yields: int | None = None

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        makes = self.recorded.mix.version.recipe.makes
        self.yields = self.read_amount("measured", makes.measure, density=makes.density)
        return cleaned

    @property
    def summary(self) -> str:
        """What was recorded of the mix, in a line."""
        materials = self.offered.materials
        return ", ".join(
            f"{self.formatter.short_quantity(quantity, materials[pk].measure)} {materials[pk].name}"
            for pk, quantity in self.recorded.parts.items()
            if quantity
        )

    @property
    def is_open(self) -> bool:
        """Whether its fields stand open: something was changed, or must be put right."""
        return self.is_bound and any(form.errors or form.has_changed() for form in (self, *self.parts))

    @property
    def facts(self) -> MixFacts:
        mix = self.recorded.mix
        return MixFacts(
            version=mix.version,
            ingredients=[part.item for part in self.parts if part.item is not None],
            leftover=self.cleaned_data["leftover"],
            measured=self.yields,
            place=mix.lot.place,
            consistency=mix.consistency,
            mix=mix,
        )


class PourRow(AmountRow):
    """One pour, recorded or forgotten: on what, how, and how much of each paint."""

    pour = forms.IntegerField(widget=forms.HiddenInput, required=False)
    surface = forms.TypedChoiceField(label=gettext_lazy("Surface"), coerce=int, empty_value=None)
    technique = forms.TypedChoiceField(label=gettext_lazy("Technique"), coerce=int, empty_value=None)
    run_off = forms.CharField(
        label=gettext_lazy("Run-off"), required=False, max_length=60, widget=AmountStepper
    )
    outcome = forms.ChoiceField(
        label=gettext_lazy("Result"), choices=Pour.Outcome.choices, initial=Pour.Outcome.OPEN
    )
    notes = NotesField(rows=2)

    def __init__(
        self,
        *args: Any,
        offered: "Offered",
        recorded: RecordedPour | None,
        sources: Sequence["Source"],
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.offered, self.recorded, self.sources = offered, recorded, sources
        _choose(self, "surface", offered.surface_choices)
        _choose(self, "technique", offered.technique_choices)
        if recorded is not None and recorded.pour.over is not None:
            del self.fields["surface"]
        for source in sources:
            self._amount_field(source.field, source.label)
        mark_decimals(self)
        self.amounts: list[tuple[Source, int]] = []
        self.more: list[Dose] = []
        self.caught: int | None = None

    @property
    def label(self) -> str:
        if self.recorded is None:
            return _("A pour that was forgotten")
        pour = self.recorded.pour
        return _("{pour}, over {failed}", pour=pour, failed=pour.over) if pour.over else pour.label

    @property
    def summary(self) -> str:
        """What was recorded of the pour, in a line."""
        if self.recorded is None:
            return _("Add it")
        pour = self.recorded.pour
        return _(
            "{surface}, {technique}, {amount}, {outcome}",
            surface=pour.surface.name,
            technique=pour.technique.name,
            amount=self.formatter.short_quantity(pour.poured, Measure.VOLUME),
            outcome=pour.get_outcome_display(),
        )

    @property
    def is_open(self) -> bool:
        """Whether its fields stand open: something was changed, or must be put right."""
        return self.is_bound and bool(self.errors or self.has_changed())

    @property
    def amount_fields(self) -> list[forms.BoundField]:
        return [self[source.field] for source in self.sources]

    @property
    def main_fields(self) -> list[forms.BoundField]:
        return [self[name] for name in ("surface", "technique", "outcome", "run_off") if name in self.fields]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        for source in self.sources:
            amount = self.read_amount(
                source.field, source.material.measure, density=source.material.density, allow_zero=True
            )
            if amount:
                self.amounts.append((source, amount))
        self.caught = self.read_amount("run_off", Measure.VOLUME, allow_zero=True)
        return cleaned

    def facts(self, positions: dict[int, int]) -> PourFacts:
        """`positions` says where among the session's mixes each one that is kept stands."""
        pour = self.recorded.pour if self.recorded else None
        surface = self.cleaned_data.get("surface")
        return PourFacts(
            technique=self.offered.techniques[self.cleaned_data["technique"]],
            doses=[source.dose(amount, positions) for source, amount in self.amounts] + self.more,
            surface=self.offered.surfaces[surface] if surface else None,
            over=pour.over if pour else None,
            run_off=self.caught,
            outcome=self.cleaned_data["outcome"],
            arm=pour.arm if pour else "",
            notes=self.cleaned_data["notes"],
            pour=pour,
        )


class ShelfRow(PartRow):
    """Paint from the shelf that went onto one of the recorded pours and is not listed with it."""

    mix = None  # type: ignore[assignment]
    pour = forms.TypedChoiceField(label=gettext_lazy("Pour"), coerce=int, empty_value=None, required=False)

    field_order = ("pour", "material", "amount")

    def __init__(self, *args: Any, offered: "Offered", pours: Choices, **kwargs: Any) -> None:
        super().__init__(*args, offered=offered, **kwargs)
        _choose(self, "pour", [("", _("Choose…")), *pours])
        self.fields["material"].label = _("Paint")


@dataclass(frozen=True, slots=True)
class Source:
    """What a pour can have taken paint from: a mix of the session, or a material on the shelf."""

    material: Material
    mix: int | None = None

    @property
    def field(self) -> str:
        return f"mix_{self.mix}" if self.mix else f"shelf_{self.material.pk}"

    @property
    def label(self) -> str:
        return self.material.name if self.mix else _("{material}, unmixed", material=self.material.name)

    def dose(self, amount: int, positions: dict[int, int]) -> Dose:
        if self.mix is None:
            return Dose(amount, material=self.material)
        return Dose(amount, mix=positions.get(self.mix, -1))


class Offered:
    """What can be chosen, each read once: what is in use, and what this session used."""

    def __init__(self, used: Iterable[int]) -> None:
        self.used = set(used)
        self._mixable: dict[str | None, Choices] = {}

    @cached_property
    def materials(self) -> dict[int, Material]:
        kept = [
            item for item in Material.objects.order_by("name") if item.pk in self.used or not item.is_archived
        ]
        return {item.pk: item for item in kept}

    @cached_property
    def surfaces(self) -> dict[int, Material]:
        return {pk: item for pk, item in self.materials.items() if item.kind == Kind.SURFACE}

    @cached_property
    def techniques(self) -> dict[int, Technique]:
        return Technique.objects.in_bulk()

    def mixable_choices(self, instead_of: int | None = None) -> Choices:
        """What can be mixed: instead of a material, others of its kind, so that a page of many parts stays light."""
        kind = self.materials[instead_of].kind if instead_of in self.materials else None
        if kind not in self._mixable:
            mixable = (item for item in self.materials.values() if item.measure in MIXABLE)
            self._mixable[kind] = by_kind(item for item in mixable if kind in (None, item.kind))
        return self._mixable[kind]

    @cached_property
    def sundry_choices(self) -> Choices:
        return by_kind(item for item in self.materials.values() if item.kind == Kind.SUNDRY)

    @cached_property
    def surface_choices(self) -> Choices:
        return [("", _("Choose…")), *((str(pk), item.name) for pk, item in self.surfaces.items())]

    @cached_property
    def technique_choices(self) -> Choices:
        return [("", _("Choose…")), *((str(pk), item.name) for pk, item in self.techniques.items())]


def _choose(form: forms.Form, name: str, choices: Choices) -> None:
    cast("forms.ChoiceField", form.fields[name]).choices = choices


def _item_of(row: StudioForm, offered: Offered, cleaned: dict[str, Any]) -> Ingredient | None:
    material = offered.materials.get(cleaned.get("material") or 0)
    if material is None:
        if cleaned.get("amount"):
            row.add_error("material", _("Choose what this is an amount of."))
        return None
    amount = row.read_amount("amount", material.measure, density=material.density, allow_zero=True)
    estimate = row.formatter.estimate_in(cleaned.get("amount", ""))
    return Ingredient(material, amount, estimate=estimate) if amount else None
