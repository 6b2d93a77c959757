"""Forms of materials, suppliers and packs."""

from collections.abc import Iterable
from typing import Any, ClassVar

from django import forms
from django.utils.translation import gettext_lazy, pgettext_lazy

from inventory.materials.models import DENSEST, LIGHTEST, MOST, Kind, Material, MeasureChoice, SignalWord
from studio.auditing.queries import last_change_number
from studio.auditing.reference_rows import is_in_use
from studio.pages.colour_input import ColourInput
from studio.pages.forms import (
    DayInput,
    Fieldset,
    MoneyField,
    NotesField,
    PercentField,
    QuantityField,
    RatioField,
    RowForm,
    SizeField,
)
from studio.preferences.models import Studio
from studio.translation import _
from studio.values.allocation import divide_half_up
from studio.values.numbers import format_scaled
from studio.values.quantities import DENSITY_SCALE, input_text
from studio.values.sizes import Size
from studio.values.units import Measure

LEVELS = (
    "reorder_level",
    "safety_stock",
    "guessed_use",
    "storage_limit",
)  # amounts in the measure of the material
LEVELS_FROM_ZERO = ("reorder_level", "safety_stock")


class MaterialForm(RowForm):
    """Everything known of one material. What it is measured in can be chosen until it is in use."""

    kind = forms.ChoiceField(
        label=gettext_lazy("Kind"), choices=[("", gettext_lazy("Choose…")), *Kind.choices]
    )
    measure = forms.ChoiceField(
        label=gettext_lazy("Measured in"),
        choices=[("", gettext_lazy("Choose…")), *MeasureChoice.choices],
        help_text=gettext_lazy(
            "Paint and medium by volume or mass, canvases and boxes by piece. It cannot be changed "
            "once the material is in use."
        ),
    )
    density = RatioField(
        label=gettext_lazy("Density"),
        unit="g/mL",
        required=False,
        example=1_120_000,
        help_text=gettext_lazy("Such as {example}. Weigh a measured sample for the best figure."),
    )
    water_share = PercentField(
        label=gettext_lazy("Share of water"),
        required=False,
        help_text=gettext_lazy(
            "How much of this material is added water. Tap water is 100%; paint as bought is 0%."
        ),
    )
    size = SizeField(
        label=gettext_lazy("Size"),
        required=False,
        help_text=gettext_lazy("Height first: 30 x 40 x 2 cm, 8 x 10 in, 30 cm round x 2 cm."),
    )
    reorder_level = forms.CharField(
        label=gettext_lazy("Reorder level"),
        required=False,
        max_length=60,
        help_text=gettext_lazy("Such as 500 ml. Leave blank to calculate it from use and lead time."),
    )
    safety_stock = forms.CharField(
        label=gettext_lazy("Safety stock"),
        required=False,
        max_length=60,
        help_text=gettext_lazy("Leave blank to calculate it."),
    )
    guessed_use = forms.CharField(
        label=gettext_lazy("Expected use in a month"),
        required=False,
        max_length=60,
        help_text=gettext_lazy(
            "For something new, such as 200 ml. It counts less with every day of use, and no longer after four months."
        ),
    )
    service_level = PercentField(
        label=gettext_lazy("Service level"),
        required=False,
        help_text=gettext_lazy(
            "How many deliveries in a hundred should arrive before you run out, such as 95%. Leave blank for the "
            "figure in the settings."
        ),
    )
    keeps_days = forms.IntegerField(
        label=gettext_lazy("Shelf life (days)"),
        required=False,
        min_value=1,
        max_value=MOST,
        help_text=gettext_lazy("Counted from opening or mixing. Leave blank for no reminder."),
    )
    storage_limit = forms.CharField(
        label=gettext_lazy("Storage limit"),
        required=False,
        max_length=60,
        help_text=gettext_lazy(
            "The most that you have room for, such as 5 l. No more than this is suggested, but at least one pack."
        ),
    )
    signal_word = forms.ChoiceField(
        label=gettext_lazy("Signal word"),
        required=False,
        choices=[("", pgettext_lazy("signal word", "None")), *SignalWord.choices],
    )
    hazards = NotesField(
        label=gettext_lazy("Hazards"),
        max_length=5_000,
        help_text=gettext_lazy("The H and EUH statements, word for word."),
    )
    free_rate = MoneyField(
        label=gettext_lazy("Fixed unit cost"),
        required=False,
        help_text=gettext_lazy("Per litre or kilogram. Leave blank if it costs nothing."),
    )
    notes = NotesField(max_length=5_000)

    fieldsets = (
        Fieldset("", ["name", "maker", "kind", "measure", "colour"]),
        Fieldset(gettext_lazy("Mixing"), ["density", "water_share", "is_free", "free_rate"]),
        Fieldset(gettext_lazy("Surfaces only"), ["size", "sides_painted"]),
        Fieldset(
            gettext_lazy("Ordering and shelf life"),
            [
                "reorder_level",
                "safety_stock",
                "is_vital",
                "service_level",
                "guessed_use",
                "keeps_days",
                "storage_limit",
            ],
        ),
        Fieldset(
            gettext_lazy("Safety data sheet"),
            ["signal_word", "safety_sheet_dated", "hazards"],
            gettext_lazy(
                "Copy this from the supplier's own data sheet; never guess it. Follow the label, the data "
                "sheet and local rules."
            ),
        ),
        Fieldset("", ["notes"]),
    )

    class Meta:
        model = Material
        fields = (
            "name", "kind", "measure", "maker", "colour", "density", "water_share", "sides_painted",
            "reorder_level", "safety_stock", "is_vital", "service_level", "guessed_use", "keeps_days",
            "storage_limit", "signal_word", "hazards", "safety_sheet_dated",
            "is_free", "free_rate", "notes",
        )  # fmt: skip
        labels = {
            "sides_painted": gettext_lazy("Sides are painted"),
            "is_vital": gettext_lazy("Vital"),
            "safety_sheet_dated": gettext_lazy("Date of the safety data sheet"),
        }
        help_texts = {
            "colour": gettext_lazy("For the swatch, such as #1f5f6b."),
            "sides_painted": gettext_lazy("Paint runs over the sides, so they are part of the area."),
            "is_vital": gettext_lazy(
                "Work stops without it, so it is reordered earlier: at the higher service level in the settings."
            ),
            "is_free": gettext_lazy("Tap water, for example: it counts in volumes but is not kept in stock."),
        }
        widgets: ClassVar[dict[str, Any]] = {"safety_sheet_dated": DayInput, "colour": ColourInput}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        material: Material = self.instance
        if material.pk is None:
            return
        comma = self.formatter.decimal_comma
        for name in LEVELS:
            amount = getattr(material, name)
            if amount is not None:
                self.initial[name] = input_text(amount, Measure(material.measure), decimal_comma=comma)
        if material.height and material.width:
            size = Size(material.height, material.width, material.depth, material.is_round)
            self.initial["size"] = size.typed(decimal_comma=comma)
        if is_in_use(material):
            for name in ("measure", "is_free"):
                self.fields[name].disabled = True

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        for name in LEVELS:
            # Before the measure is chosen, an amount cannot be read.
            cleaned[name] = cleaned.get("measure") and self.read_amount(
                name, cleaned["measure"], density=cleaned.get("density"), allow_zero=name in LEVELS_FROM_ZERO
            )
        for name in ("water_share", "free_rate"):
            cleaned[name] = cleaned.get(name) or 0
        size: Size | None = cleaned.get("size")
        row = self.instance
        row.height, row.width = (size.height, size.width) if size else (None, None)
        row.depth, row.is_round = (size.depth, size.round) if size else (None, False)
        return cleaned


class DensitySampleForm(RowForm):
    """A sample of known volume and what it weighs: the density follows."""

    sample = QuantityField(
        label=gettext_lazy("Volume of the sample"),
        measure=Measure.VOLUME,
        example="50 ml",
        error_messages={"required": gettext_lazy("Enter how much you measured out, such as 50 ml.")},
    )
    full = QuantityField(
        label=gettext_lazy("Its weight, container included"),
        measure=Measure.MASS,
        example="72 g",
        error_messages={"required": gettext_lazy("Enter what the scale shows, such as 72 g.")},
    )
    empty = QuantityField(
        label=gettext_lazy("The empty container"),
        measure=Measure.MASS,
        allow_zero=True,
        required=False,
        example="12 g",
        help_text=gettext_lazy("Leave blank if the scale was set to zero with it."),
    )
    next = forms.CharField(required=False, widget=forms.HiddenInput)

    class Meta:
        model = Material
        fields: tuple[str, ...] = ()

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        sample, full, empty = cleaned.get("sample"), cleaned.get("full"), cleaned.get("empty") or 0
        if not sample or not full:
            return cleaned
        if full <= empty:
            self.add_error("full", _("It must be heavier than the empty container. Check both weights."))
            return cleaned
        density = divide_half_up((full - empty) * DENSITY_SCALE, sample)
        if LIGHTEST <= density <= DENSEST:
            self.instance.density = density
        else:
            self.add_error(
                "full",
                _(
                    "That would be {density} g/mL, which no paint is: check volume and weights.",
                    density=format_scaled(density, 6, decimal_comma=self.formatter.decimal_comma),
                ),
            )
        return cleaned


def sample_forms(materials: Iterable[Material], *, studio: Studio, back: str = "") -> list[DensitySampleForm]:
    """A form for each material whose density is missing, to stand where it is needed; `back` leads there again.

    What a recipe makes is left out: its density follows from its parts.
    """
    wanted = {material.pk for material in materials}
    seen = {pk: last_change_number(Material, pk) for pk in wanted}  # before the rows themselves
    rows = Material.objects.filter(pk__in=wanted, density=None, recipe=None).order_by("name")
    return [
        DensitySampleForm(
            instance=row,
            studio=studio,
            initial={"seen": seen[row.pk], "next": back},
            auto_id=f"sample-{row.pk}-%s",
        )
        for row in rows
    ]
