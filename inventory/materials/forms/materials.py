"""A material, as it is typed."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy, pgettext_lazy

from inventory.materials.actions import MOST, MaterialFacts
from inventory.materials.models import Kind, Material, MeasureChoice, SignalWord
from studio.auditing.reference_rows import is_in_use
from studio.pages.forms import DayInput, EditForm, MoneyField, PercentField, RatioField, SizeField
from studio.values.quantities import input_text
from studio.values.sizes import Size
from studio.values.units import Measure

LEVELS = ("reorder_level", "safety_stock")  # amounts in the measure of the material
PLAIN = (
    "name", "kind", "measure", "maker", "colour", "density", "water_share", "sides_painted", "keeps_days",
    "signal_word", "hazards", "safety_sheet_dated", "is_free", "free_rate", "notes",
)  # fmt: skip


class MaterialForm(EditForm):
    """Everything known of one material. What it is measured in can be chosen until it is in use."""

    name = forms.CharField(label=gettext_lazy("Name"), max_length=120)
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
    maker = forms.CharField(label=gettext_lazy("Maker"), max_length=120, required=False)
    colour = forms.CharField(
        label=gettext_lazy("Colour"),
        max_length=7,
        required=False,
        help_text=gettext_lazy("For the swatch, such as #1f5f6b."),
    )
    density = RatioField(
        label=gettext_lazy("Density"),
        unit="g/mL",
        required=False,
        help_text=gettext_lazy("Such as 1.12 g/mL. Weigh a measured sample for the best figure."),
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
        help_text=gettext_lazy("Height first: 30 x 40 x 1.8 cm, 8 x 10 in, 30 cm round x 1.8 cm."),
    )
    sides_painted = forms.BooleanField(
        label=gettext_lazy("Sides are painted"),
        required=False,
        initial=True,
        help_text=gettext_lazy("Paint runs over the sides, so they are part of the area."),
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
    keeps_days = forms.IntegerField(
        label=gettext_lazy("Shelf life (days)"),
        required=False,
        min_value=1,
        max_value=MOST,
        help_text=gettext_lazy("Counted from opening or mixing. Leave blank for no reminder."),
    )
    signal_word = forms.ChoiceField(
        label=gettext_lazy("Signal word"),
        required=False,
        choices=[("", pgettext_lazy("signal word", "None")), *SignalWord.choices],
    )
    hazards = forms.CharField(
        label=gettext_lazy("Hazards"),
        required=False,
        max_length=5_000,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text=gettext_lazy("The H and EUH statements, word for word."),
    )
    safety_sheet_dated = forms.DateField(
        label=gettext_lazy("Date of the safety data sheet"), required=False, widget=DayInput()
    )
    is_free = forms.BooleanField(
        label=gettext_lazy("Free, never stocked"),
        required=False,
        help_text=gettext_lazy("Tap water, for example: it counts in volumes but is not kept in stock."),
    )
    free_rate = MoneyField(
        label=gettext_lazy("Fixed unit cost"),
        required=False,
        help_text=gettext_lazy("Per litre or kilogram. Leave blank if it costs nothing."),
    )
    notes = forms.CharField(
        label=gettext_lazy("Notes"),
        required=False,
        max_length=5_000,
        widget=forms.Textarea(attrs={"rows": 3}),
    )

    def __init__(self, *args: Any, material: Material | None = None, seen: int = 0, **kwargs: Any) -> None:
        kwargs.setdefault("initial", {"seen": seen} | (_initial(material) if material else {}))
        super().__init__(*args, **kwargs)
        self.is_in_use = material is not None and is_in_use(material)
        if material is None:
            return
        for name in LEVELS:
            amount = getattr(material, name)
            if amount is not None:
                self.initial[name] = input_text(
                    amount, Measure(material.measure), decimal_comma=self.formatter.decimal_comma
                )
        if material.height and material.width:
            size = Size(material.height, material.width, material.depth, material.is_round)
            self.initial["size"] = size.typed(decimal_comma=self.formatter.decimal_comma)
        if self.is_in_use:
            for name in ("measure", "is_free"):
                self.fields[name].disabled = True

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        for name in LEVELS:
            # Before the measure is chosen, an amount cannot be read.
            cleaned[name] = cleaned.get("measure") and self.read_amount(
                name, cleaned["measure"], density=cleaned.get("density"), allow_zero=True
            )
        return cleaned

    def facts(self) -> MaterialFacts:
        """Raises InputError for facts that do not fit together."""
        cleaned = self.cleaned_data
        return MaterialFacts(
            **{name: cleaned[name] for name in PLAIN if name not in ("water_share", "free_rate")},
            **{name: cleaned[name] for name in ("size", *LEVELS)},
            water_share=cleaned["water_share"] or 0,
            free_rate=cleaned["free_rate"] or 0,
        )


def _initial(material: Material) -> dict[str, Any]:
    return {name: getattr(material, name) for name in PLAIN}
