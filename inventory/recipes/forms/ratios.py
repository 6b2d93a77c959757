"""Writing a ratio: its parts by role, a row for each."""

from collections.abc import Mapping
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy

from inventory.materials.choices import MaterialChoice
from inventory.materials.models import Material
from inventory.recipes.actions.ratios import RatioFacts, RatioPartFacts
from inventory.recipes.forms.choices import offer
from inventory.recipes.models import Basis, Ratio, RatioRole
from inventory.recipes.ratio_parts import RatioUnit, Role, RolePart, read_amount, written_amount
from studio.errors import InputError
from studio.pages.forms import EditForm, NotesField, StudioForm, TypedField
from studio.pages.formsets import PatternRows, Rows, rows_of
from studio.translation import _

MOST_PARTS = 100
SPARE_PARTS = 1
FIRST_ROLES = (Role.PAINT, Role.MEDIUM, Role.WATER)


class RatioAmountField(TypedField):
    """So much of a role: "2", "½", "1.5%" or "3 drops"; cleans to the amount and its unit."""

    def read(self, text: str) -> tuple[int, RatioUnit]:
        return read_amount(text, decimal_comma=self.formatter.decimal_comma)

    def prepare_value(self, value: Any) -> Any:
        if isinstance(value, RolePart):
            return written_amount(value, decimal_comma=self.formatter.decimal_comma)
        return value


class RatioForm(EditForm):
    """The head of a ratio."""

    name = forms.CharField(label=gettext_lazy("Name"), max_length=120)
    basis = forms.ChoiceField(
        label=gettext_lazy("Measure parts"), choices=Basis.choices, initial=Basis.VOLUME
    )
    notes = NotesField(rows=2)
    is_favourite = forms.BooleanField(
        label=gettext_lazy("Favourite"),
        required=False,
        help_text=gettext_lazy("Offered first when you plan or log."),
    )
    is_archived = forms.BooleanField(
        label=gettext_lazy("Archived"),
        required=False,
        help_text=gettext_lazy("No longer offered. What was mixed by it stays."),
    )

    def facts(self, rows: Rows) -> RatioFacts:
        """The ratio with its parts, once both are valid. Raises InputError naming the row."""
        parts = []
        for number, row in enumerate(rows.kept, start=1):
            try:
                parts.append(row.facts)
            except InputError as problem:
                raise problem.on_line(number, rows="parts") from None
        names = ("name", "basis", "notes", "is_archived", "is_favourite")
        return RatioFacts(parts, **{name: self.cleaned_data[name] for name in names})


class RatioPartForm(StudioForm):
    """So much of one role. A row without an amount is left out."""

    role = forms.ChoiceField(label=gettext_lazy("Role"), choices=[("", "–"), *RatioRole.choices])
    amount = RatioAmountField(
        label=gettext_lazy("Amount"),
        max_length=20,
        help_text=gettext_lazy(
            "Parts, such as 2 or ½. An additive also as 2% of the cup, or 3 drops in 100 mL of it."
        ),
        example="2",
    )
    material = MaterialChoice(
        label=gettext_lazy("Always this one"),
        required=False,
        help_text=gettext_lazy("Leave blank to choose it when you mix."),
    )

    def __init__(
        self,
        *args: Any,
        materials: Mapping[int, Material],
        choices: list[tuple[str, Any]],
        is_pattern: bool = False,
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        chosen_later = [("", _("Chosen when you mix"))]
        offer(self, "material", materials, [] if is_pattern else [*chosen_later, *choices[1:]])

    @property
    def facts(self) -> RatioPartFacts:
        """Raises InputError."""
        amount, unit = self.cleaned_data["amount"]
        return RatioPartFacts(self.cleaned_data["role"], amount, unit, self.cleaned_data["material"])


RatioParts = rows_of(RatioPartForm, at_most=MOST_PARTS, formset=PatternRows)


def rows_of_ratio(ratio: Ratio) -> list[dict[str, Any]]:
    """First values for the rows of a ratio that is changed."""
    return [
        {
            "role": part.role,
            "amount": RolePart(Role(part.role), part.amount, RatioUnit(part.unit)),
            "material": part.material_id,
        }
        for part in ratio.parts.all()
    ]
