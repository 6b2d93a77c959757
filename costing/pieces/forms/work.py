"""Finishing and packing: the materials used, the minutes, and what may have to be confirmed."""

from collections.abc import Mapping
from typing import Any, cast

from django import forms
from django.forms import formset_factory
from django.http import QueryDict
from django.utils.translation import gettext_lazy

from costing.errors import StillDrying
from costing.pieces.forms.pieces import LONGEST_NOTE, MOST_MINUTES
from inventory.errors import NotEnough
from inventory.materials.choices import MaterialChoice, by_kind, stocked_materials
from inventory.materials.models import Kind, Material
from inventory.recipes.actions.mixes import Ingredient
from studio.errors import InputError, MeniscusError
from studio.pages.forms import DayInput, KeyedForm, StudioForm
from studio.pages.formsets import Rows
from studio.preferences.models import Studio
from studio.values.quantities import input_text
from studio.values.units import Measure

MOST_ROWS = 20
SPARE_ROWS = 3
FOR_FINISHING = (Kind.FINISH, Kind.SUNDRY, Kind.ADDITIVE, Kind.MEDIUM, Kind.MIX, Kind.PAINT)
FOR_PACKING = (Kind.PACKAGING, Kind.SUNDRY)


class WorkForm(KeyedForm):
    """When, how long, and the two cautions that may be set aside; each is asked for only once it stands."""

    on = forms.DateField(label=gettext_lazy("Day"), widget=DayInput)
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


class UsedForm(StudioForm):
    """So much of one material. Blank rows are left out."""

    material = MaterialChoice()
    amount = forms.CharField(
        label=gettext_lazy("Amount"),
        max_length=60,
        widget=forms.TextInput(attrs={"placeholder": gettext_lazy("12 ml, 2 each")}),
    )

    def __init__(
        self, *args: Any, materials: Mapping[int, Material], choices: list[tuple[str, Any]], **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.quantity = 0
        material = self.fields["material"]
        if isinstance(material, MaterialChoice):
            material.offer(materials, choices)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        material, amount = cleaned.get("material"), cleaned.get("amount")
        if material is not None and amount:
            try:
                reading = self.reading(amount, material.measure, density=material.density)
                self.quantity = reading.quantity.amount
            except InputError as problem:
                self.add_error("amount", str(problem))
        return cleaned


UsedRows = cast(
    "type[Rows]",
    formset_factory(
        UsedForm, formset=Rows, can_delete=True, max_num=MOST_ROWS, absolute_max=MOST_ROWS, validate_max=True
    ),
)


class WorkSheet:
    """The form and its rows of materials together."""

    def __init__(
        self,
        *,
        studio: Studio,
        kinds: tuple[Kind, ...],
        first: Mapping[str, Any],
        usual: list[Ingredient],
        data: QueryDict | None,
    ) -> None:
        materials = {pk: material for pk, material in stocked_materials().items() if material.kind in kinds}
        self.form = WorkForm(data, initial=dict(first), studio=studio)
        comma = self.form.formatter.decimal_comma
        self.rows = UsedRows(
            data,
            prefix="used",
            initial=[
                {
                    "material": item.material.pk,
                    "amount": input_text(item.quantity, Measure(item.material.measure), decimal_comma=comma),
                }
                for item in usual
                if item.material.pk in materials
            ]
            if data is None
            else None,
            spare=1 if usual else SPARE_ROWS,
            form_kwargs={"studio": studio, "materials": materials, "choices": by_kind(materials.values())},
        )
        self.offers_materials = bool(materials)
        self.shortfalls: list[str] = []
        self.still_drying = ""

    def is_valid(self) -> bool:
        return all([self.form.is_valid(), self.rows.is_valid()])

    @property
    def materials(self) -> list[Ingredient]:
        """What was used, once the rows are valid."""
        return [Ingredient(row.cleaned_data["material"], row.quantity) for row in self.rows.kept]

    def refuse(self, problem: MeniscusError) -> None:
        """Show a writer's refusal; what may be confirmed comes with its own tick box."""
        if isinstance(problem, NotEnough):
            self.shortfalls = problem.described
        elif isinstance(problem, StillDrying):
            self.still_drying = str(problem)
        else:
            self.form.refuse(problem)
