"""One cup: mixed by a recipe with the parts as they really went in, or poured straight from a lot on the shelf."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, cast

from django import forms
from django.forms import BoundField
from django.utils.translation import gettext_lazy

from inventory.errors import InventoryError
from inventory.materials.models import Material
from inventory.recipes.actions import mixes
from inventory.recipes.actions.mixes import Ingredient, MixFacts
from inventory.recipes.forms.choices import FormChoices
from inventory.recipes.forms.cup_parts import PartsForm, lot_field
from inventory.recipes.forms.cup_totals import amount_field, amount_in_parts, planned_amount, signature_of
from inventory.recipes.forms.overshoot import rescaled
from inventory.recipes.forms.part_notes import notes_on_parts
from inventory.recipes.models import Mix, RecipeVersion
from studio.errors import MeniscusError
from studio.pages.forms import AmountStepper, DayInput, mark_decimals
from studio.preferences.formatting import Formatter
from studio.translation import _
from studio.values.quantities import mass_of
from studio.values.units import Measure

FOLDED = ("leftover", "measured", "spilled", "consistency", "place", "use_by")
MOST_CUPS = 100  # own choice: a bound that no bench comes to


@dataclass(frozen=True, slots=True)
class CupTotals:
    """What the parts of a cup come to, in words, and how much of it is added water, in millionths."""

    parts: str
    total: str
    water: int

    @classmethod
    def of(cls, makes: Material, ingredients: Sequence[Ingredient], formatter: Formatter) -> "CupTotals":
        used = [item for item in ingredients if item.quantity]
        try:
            total = formatter.short_quantity(mixes.total_of(used, Measure(makes.measure)), makes.measure)
        except MeniscusError:
            total = ""
        parts = ", ".join(
            f"{formatter.short_quantity(item.quantity, item.material.measure)} {item.material.name}"
            for item in ingredients
        )
        return cls(parts, total, mixes.water_in(used))


class CupForm(PartsForm):
    """A row of the session form, made from a dict of what was typed. Its parts appear once what is wanted is known.

    Parts that were worked out for something else, or never, are written into that dict as planned. `while_typing` the
    page is not judged yet; sent to be posted, replaced parts must be looked at first.
    """

    figures: Any = None

    contents = forms.ChoiceField(
        label=gettext_lazy("Contents"),
        error_messages={
            "required": gettext_lazy("Choose what is in this cup, or clear the rest of its row.")
        },
    )
    wanted = forms.CharField(
        label=gettext_lazy("Total amount"),
        max_length=60,
        widget=AmountStepper(attrs={"placeholder": "300 ml"}),
        error_messages={"required": gettext_lazy("Enter how much of it was mixed, such as 300 ml.")},
    )
    leftover = forms.ChoiceField(
        label=gettext_lazy("Leftover"), choices=Mix.Leftover.choices, initial=Mix.Leftover.KEPT
    )
    planned_for = forms.CharField(required=False, max_length=60, widget=forms.HiddenInput)
    suggested = forms.CharField(required=False, max_length=60, widget=forms.HiddenInput)
    measured = forms.CharField(
        label=gettext_lazy("Measured total"),
        required=False,
        max_length=60,
        widget=AmountStepper,
        help_text=gettext_lazy("Only if you measured the whole cup; otherwise the parts are added up."),
    )
    spilled = forms.CharField(
        label=gettext_lazy("Spilled"),
        required=False,
        max_length=60,
        widget=AmountStepper,
        help_text=gettext_lazy("Lost on the way: recorded as a loss, so the pours do not carry its cost."),
    )
    consistency = forms.CharField(
        label=gettext_lazy("Consistency"),
        required=False,
        max_length=120,
        help_text=gettext_lazy("“Warm honey”, mound test, or a flow cup: “ISO 4 mm, 42 s, 23 °C”."),
    )
    place = forms.CharField(label=gettext_lazy("Where the leftover is kept"), required=False, max_length=60)
    use_by = forms.DateField(
        label=gettext_lazy("Use leftover by"),
        required=False,
        widget=DayInput,
        help_text=gettext_lazy("Leave blank to use the shelf life of the mix, if known."),
    )

    def __init__(
        self,
        *args: Any,
        form_choices: FormChoices,
        is_pattern: bool = False,
        while_typing: bool = False,
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.form_choices, self.while_typing = form_choices, while_typing
        if not is_pattern:
            self._offer_contents()
        contents = self._text("contents")
        self.version: RecipeVersion | None = form_choices.version(contents)
        self.ready: Material | None = form_choices.poured_straight(contents)
        if self.ready is not None:
            self.fields["wanted"].required = False
            self.fields["wanted"].label = _("Amount in the cup")
        self.facts: MixFacts | None = None
        self.amount: int | None = None
        self.spilled_amount: int | None = None
        self.just_planned = False
        self.problem = ""
        # What the parts below, or the bottles to choose from, were worked out for.
        self.signature = contents if self.ready is not None else ""
        self.plan: Sequence[Ingredient] = self._planned()
        self.stale = self._fill_in_parts()
        self._write_out_parts()
        self.shown_problem = ""
        # What to add after too much of a part, in words.
        self.rescaled = self._rescale()
        self.added = [material for _row, material in self._added()] if self.plan else []
        self._add_parts()
        self.totals = self._weigh_up()
        mark_decimals(self)

    @property
    def makes(self) -> Material | None:
        """The material in the cup."""
        return self.version.recipe.makes if self.version else self.ready

    @property
    def lot(self) -> int | None:
        """The lot chosen for a cup that is poured straight."""
        return self._lot(self.ready) if self.ready else None

    def volume_of(self, amount: int) -> int:
        """An amount of what is in the cup as a volume. Raises InventoryError without a density."""
        return mixes.in_measure(self._held(), amount, Measure.VOLUME)

    def amount_of(self, volume: int) -> int:
        """A volume in the measure of what is in the cup."""
        held = self._held()
        return mass_of(volume, held.density) if held.measure == Measure.MASS and held.density else volume

    @property
    def density(self) -> int:
        """Density of what is in the cup (µg/mL), of that very mix. Raises InventoryError naming what has none."""
        return mixes.density_of(self.facts) if self.facts else mixes.known_density(self._held())

    def _held(self) -> Material:
        if self.makes is None:
            raise InventoryError(_("Choose what is in the cup first."))
        return self.makes

    @property
    def parts_of(self) -> str:
        """What the fields of the parts are for: they are written anew where that is another."""
        return ":".join([self.signature, *(f"+{material.pk}" for material in self.added)])

    @property
    def part_fields(self) -> list[BoundField]:
        return [self[amount_field(item.material)] for item in self.plan]

    @property
    def lot_fields(self) -> list[BoundField]:
        parts = [item.material for item in self.plan] or ([self.ready] if self.ready else [])
        materials = dict.fromkeys([*parts, *self.added])
        return [self[lot_field(material)] for material in materials if lot_field(material) in self.fields]

    @property
    def more_fields(self) -> list[BoundField]:
        return [self[name] for name in FOLDED if name in self.fields]

    @property
    def says_more(self) -> bool:
        """Whether the folded fields hold something, or must be put right."""
        return any(
            field.errors or field.value() not in (None, "", field.field.initial) for field in self.more_fields
        )

    @property
    def materials(self) -> list[Material]:
        """What goes into the cup."""
        if self.version is not None:
            return [*(part.material for part in self.version.parts.all()), *self.added]
        return [self.ready] if self.ready else []

    @property
    def words(self) -> str:
        """What is in the cup, and how much, as far as it was typed."""
        return ", ".join(filter(None, (self.makes.name if self.makes else "", self._text("wanted").strip())))

    @property
    def is_folded(self) -> bool:
        """Whether one line says it all: filled in, with nothing to look at or to put right."""
        looks = self.just_planned or self.stale or self.problem or (self.plan and self.says_shown)
        return bool(self.makes and not looks and (self.hides_errors or not self.errors))

    @property
    def shows_parts(self) -> bool:
        """Whether the parts stand open: just worked out, or one of them must be put right."""
        if self.just_planned or self.stale or self.says_lots or (self.plan and self.says_added):
            return True
        return any(field.errors for field in self.part_fields) or bool(self.plan and self.says_shown)

    @property
    def says_lots(self) -> bool:
        return any(field.value() or field.errors for field in self.lot_fields)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        if not self.has_changed() or self.makes is None or "wanted" in self.errors:
            return cleaned
        if "spilled" in self.fields:
            self.spilled_amount = self.read_amount("spilled", self.makes.measure, density=self.makes.density)
        if self.version is None:
            self.amount = self.read_amount("wanted", self.makes.measure, density=self.makes.density)
        elif self.problem:
            self.add_error("wanted", self.problem)
        else:
            self._clean_mix(self.version)
        return cleaned

    def _clean_mix(self, version: RecipeVersion) -> None:
        if self.stale and not self.while_typing:
            self.add_error(
                "wanted",
                _(
                    "This was changed after the parts were calculated. They have been recalculated; "
                    "please check."
                ),
            )
        if not self.while_typing:
            self.refuse_unsaved_samples()
            if self.cleaned_data.get("shown"):
                self.add_error("shown", _("Choose “Rescale the rest” first, or clear this reading."))
        makes = version.recipe.makes
        used = [self._used(item) for item in self.plan]
        used += self._clean_added([item.material for item in self.plan])
        measured = self.read_amount("measured", makes.measure, density=makes.density)
        if self.errors:
            return
        try:
            self.facts = MixFacts(
                version=version,
                ingredients=[item for item in used if item.quantity],
                leftover=self.cleaned_data.get("leftover") or Mix.Leftover.KEPT,
                measured=measured,
                use_by=self.cleaned_data.get("use_by"),
                place=self.cleaned_data.get("place", ""),
                consistency=self.cleaned_data.get("consistency", ""),
            )
            self.amount = mixes.yield_of(self.facts)
        except MeniscusError as problem:
            self.refuse(problem)

    def _used(self, item: Ingredient) -> Ingredient:
        """A part as it really went in; left empty it went in as planned, and 0 leaves it out."""
        material = item.material
        amount = self.read_amount(
            amount_field(material), material.measure, density=material.density, allow_zero=True
        )
        estimate = self.formatter.estimate_in(self.cleaned_data.get(amount_field(material), ""))
        return Ingredient(
            material, item.quantity if amount is None else amount, self._lot(material), estimate
        )

    def _planned(self) -> Sequence[Ingredient]:
        wanted = self._text("wanted").strip()
        if self.version is None or not wanted:
            return []
        makes = self.version.recipe.makes
        try:
            amount = self.formatter.read(wanted, makes.measure, density=makes.density).quantity.amount
            amount = planned_amount(self._text("planned_for"), self.version, amount)
            planned = mixes.planned(self.version, amount)
        except MeniscusError as problem:
            self.problem = str(problem)
            return []
        self.signature = signature_of(self.version, amount)
        return planned

    def _fill_in_parts(self) -> bool:
        """Write the plan into the parts unless they are up to it; true when that replaced the parts of another."""
        before = self._text("planned_for")
        is_up_to_it = before == self.signature or before.startswith(f"{self.signature}:")
        if is_up_to_it or not isinstance(self.data, dict):
            return False
        filled_in = {"planned_for": self.signature}
        filled_in |= {amount_field(item.material): self._typed(item) for item in self.plan}
        self.data |= {self.add_prefix(name): text for name, text in filled_in.items()}
        # A bottle has no parts.
        return bool(self.plan) and ":" in before

    def _write_out_parts(self) -> None:
        """Write an amount where so many parts of the recipe were typed, such as 2.5 parts."""
        if not (self.version and self.plan and isinstance(self.data, dict)):
            return
        for item in self.plan:
            name = amount_field(item.material)
            amount = amount_in_parts(self._text(name), item, self.version, self.formatter)
            if amount is not None:
                self.data |= {self.add_prefix(name): self._typed(Ingredient(item.material, amount))}

    def _rescale(self) -> str:
        """Write the parts anew where what was shown after one of them was typed; the reading is used up by that."""
        shown = self._text("shown").strip()
        if not (shown and self.plan and self.version and self.while_typing and isinstance(self.data, dict)):
            return ""
        used = [Ingredient(item.material, self._readable(item)) for item in self.plan]
        makes = self.version.recipe.makes
        try:
            result = rescaled(
                self.plan, used, after=self._text("shown_after"), shown=shown, studio=self.studio
            )
            total = mixes.total_of(result.parts, Measure(makes.measure))
        except MeniscusError as problem:
            self.shown_problem = str(problem)
            return ""
        written = {"shown": "", "wanted": self._typed(Ingredient(makes, total))}
        written |= {amount_field(item.material): self._typed(item) for item in result.parts}
        self.data |= {self.add_prefix(name): text for name, text in written.items()}
        self.plan = self._planned()
        self.data[self.add_prefix("planned_for")] = self.signature
        return result.words

    @property
    def shown_fields(self) -> list[BoundField]:
        return [self[name] for name in ("shown_after", "shown")]

    @property
    def says_shown(self) -> bool:
        return bool(self.shown_problem or self["shown"].value() or self["shown"].errors)

    def _add_shown(self) -> None:
        choices = [(str(item.material.pk), item.material.name) for item in self.plan]
        self.fields["shown_after"] = forms.ChoiceField(label=_("After"), required=False, choices=choices)
        self.fields["shown"] = forms.CharField(
            label=_("The scale or measuring cup shows"), required=False, max_length=60
        )

    def _add_parts(self) -> None:
        self._add_samples(dict.fromkeys([*(item.material for item in self.plan), *self.added]))
        if self.plan:
            self._add_shown()
            self._add_rows_of_added()
        for item in self.plan:
            self.fields[amount_field(item.material)] = forms.CharField(
                label=item.material.name, required=False, max_length=60, widget=AmountStepper
            )
            self._add_lot(item.material)
        for material in [*self.added, *([self.ready] if self.ready else [])]:
            self._add_lot(material)

    def _weigh_up(self) -> CupTotals | None:
        """Weigh the parts up as they stand in the form: what the scale shows after each, and what they come to."""
        if not self.plan or self.version is None:
            return None
        used = [Ingredient(item.material, self._readable(item)) for item in self.plan]
        notes = notes_on_parts(self.plan, used, self.studio)
        for item, note in zip(self.plan, notes, strict=True):
            self.fields[amount_field(item.material)].help_text = note
        return CupTotals.of(self.version.recipe.makes, used + self._readable_added(), self.formatter)

    def _offer_contents(self) -> None:
        """What makes sense on this shelf; everything where something else was chosen."""
        contents = cast("forms.ChoiceField", self.fields["contents"])
        contents.choices = self.form_choices.usual_cup_choices
        if self._text("contents") and not contents.valid_value(self._text("contents")):
            contents.choices = self.form_choices.cup_choices
