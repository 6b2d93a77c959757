"""What is entered about a piece: its title and pours, a step, its price, minutes, materials, and its photo."""

from collections.abc import Mapping
from typing import Any

from django import forms
from django.http import QueryDict
from django.utils import timezone
from django.utils.html import format_html
from django.utils.translation import gettext_lazy

from costing.errors import StillDrying
from costing.pieces.models import DESCRIPTION, Piece, PieceState
from inventory.materials.choices import ChoosingForm, MaterialChoice, by_kind, stocked_materials
from inventory.materials.models import Kind, Material
from inventory.recipes.actions.mixes import Ingredient
from inventory.recipes.forms.batches import ShortfallForm
from inventory.sessions.models import Pour
from studio.errors import MeniscusError
from studio.pages.forms import DayInput, EditForm, KeyedForm, MoneyField, NotesField, RowForm, StudioForm
from studio.pages.formsets import Rows, rows_of
from studio.preferences.formatting import Formatter
from studio.preferences.models import Studio
from studio.values.quantities import input_text
from studio.values.units import Measure

LONGEST_NOTE = 300
MOST_MINUTES = 10_000
MOST_ROWS = 100
SPARE_ROWS = 3
FOR_FINISHING = (Kind.FINISH, Kind.SUNDRY, Kind.ADDITIVE, Kind.MEDIUM, Kind.MIX, Kind.PAINT)
FOR_PACKING = (Kind.PACKAGING, Kind.SUNDRY)


class DescriptionForm(RowForm):
    """What is said of a piece."""

    description = NotesField(label=gettext_lazy("Description"))

    class Meta:
        model = Piece
        fields = DESCRIPTION
        labels = {
            "title": gettext_lazy("Title"),
            "series": gettext_lazy("Series"),
            "series_number": gettext_lazy("Number in the series"),
            "edition": gettext_lazy("Edition"),
            "year": gettext_lazy("Year on papers"),
            "size_note": gettext_lazy("If it is a set"),
        }
        help_texts = {"size_note": gettext_lazy("Such as: set of four, diptych.")}


class PieceForm(DescriptionForm):
    """A new piece of the pours that were ticked."""

    pours = forms.TypedMultipleChoiceField(
        coerce=int,
        widget=forms.CheckboxSelectMultiple,
        error_messages={
            "required": gettext_lazy("Tick at least one pour."),
            "invalid_choice": gettext_lazy("Tick pours of the list."),
        },
    )

    def __init__(self, *args: Any, pours: list[Pour], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        choice = self.fields["pours"]
        if isinstance(choice, forms.TypedMultipleChoiceField):
            choice.choices = [(pour.pk, self._label(pour)) for pour in pours]

    def _label(self, pour: Pour) -> str:
        return format_html(
            '<strong>{}</strong> {}, {} <span class="quiet">{}, {}</span>',
            pour.label,
            pour.surface.name,
            pour.technique.name,
            pour.session,
            self.formatter.day(pour.session.held_on),
        )


class StepForm(StudioForm):
    """A step on or back; which one is the button that was pressed."""

    to = forms.ChoiceField(choices=PieceState.choices, widget=forms.HiddenInput)
    on = forms.DateField(label=gettext_lazy("Day"), widget=DayInput, initial=timezone.localdate)
    note = forms.CharField(label=gettext_lazy("Note"), max_length=LONGEST_NOTE, required=False)


class PriceForm(EditForm):
    """The asking price. Left empty, the piece has none."""

    price = MoneyField(
        label=gettext_lazy("Asking price ({currency})"),
        required=False,
        example=45_000_000,
        help_text=gettext_lazy("What the buyer pays, with any tax."),
    )


class MinutesForm(KeyedForm):
    """Minutes worked on a piece after its session."""

    work = forms.CharField(
        label=gettext_lazy("Labour"),
        max_length=80,
        widget=forms.TextInput(attrs={"placeholder": gettext_lazy("Sanding, photographing, framing")}),
    )
    minutes = forms.IntegerField(label=gettext_lazy("Minutes"), min_value=1, max_value=MOST_MINUTES)
    on = forms.DateField(label=gettext_lazy("Day"), widget=DayInput, initial=timezone.localdate)


class WorkForm(ShortfallForm):
    """When, how long, and the two cautions that may be set aside; each is asked for only once it stands."""

    on = forms.DateField(label=gettext_lazy("Day"), widget=DayInput, initial=timezone.localdate)
    minutes = forms.IntegerField(
        label=gettext_lazy("Minutes worked"), min_value=0, max_value=MOST_MINUTES, required=False
    )
    note = forms.CharField(label=gettext_lazy("Note"), max_length=LONGEST_NOTE, required=False)
    anyway = forms.BooleanField(label=gettext_lazy("Finish it anyway"), required=False)
    confirm_gain = forms.BooleanField(
        label=gettext_lazy(
            "There was more in the bottles than recorded: add the difference to stock, then save this"
        ),
        required=False,
    )
    still_drying = ""

    def refuse(self, problem: MeniscusError, **formsets: Rows) -> None:
        if isinstance(problem, StillDrying):
            self.still_drying = str(problem)
        else:
            super().refuse(problem, **formsets)


class UsedForm(ChoosingForm):
    """So much of one material. Blank rows are left out."""

    material = MaterialChoice(label=gettext_lazy("Material"))
    amount = forms.CharField(
        label=gettext_lazy("Amount"),
        max_length=60,
        widget=forms.TextInput(attrs={"placeholder": gettext_lazy("12 ml, 2 each")}),
    )

    def __init__(
        self, *args: Any, materials: Mapping[int, Material], choices: list[tuple[str, Any]], **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        material = self.fields["material"]
        if isinstance(material, MaterialChoice):
            material.offer(materials, choices)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        if (material := cleaned.get("material")) is not None:
            cleaned["quantity"] = self.read_amount("amount", material.measure, density=material.density)
        return cleaned


UsedRows = rows_of(UsedForm, at_most=MOST_ROWS)


def used_rows(
    data: QueryDict | None,
    *,
    studio: Studio,
    kinds: tuple[Kind, ...],
    usual: list[Ingredient],
    prefix: str = "used",
) -> Rows:
    """Rows for materials of these kinds, the usual ones filled in."""
    stocked = [(pk, material) for pk, material in stocked_materials().items() if material.kind in kinds]
    materials = dict(
        sorted(stocked, key=lambda row: kinds.index(Kind(row[1].kind)))
    )  # varnish first to finish with
    comma = Formatter.of(studio).decimal_comma
    initial = [
        {
            "material": item.material.pk,
            "amount": input_text(item.quantity, Measure(item.material.measure), decimal_comma=comma),
        }
        for item in usual
        if item.material.pk in materials
    ]
    return UsedRows(
        data,
        prefix=prefix,
        initial=initial,
        spare=1 if usual else SPARE_ROWS,
        form_kwargs={"studio": studio, "materials": materials, "choices": by_kind(materials.values())},
    )


def ingredients(rows: Rows) -> list[Ingredient]:
    """What was used, by valid rows."""
    return [Ingredient(row.cleaned_data["material"], row.cleaned_data["quantity"]) for row in rows.kept]
