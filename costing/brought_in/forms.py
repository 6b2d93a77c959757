"""Finished pieces that were there before the books, a row each."""

from collections.abc import Iterable
from typing import Any, cast

from django import forms
from django.utils.translation import gettext_lazy, pgettext_lazy

from costing.brought_in.actions import MOST_PIECES, BroughtInPiece
from costing.locations.models import Location, LocationKind
from costing.pieces.models import FIRST_YEAR, LAST_YEAR
from inventory.materials.choices import MaterialChoice, by_kind
from inventory.materials.models import Material
from inventory.materials.new_in_place import NewMaterials
from inventory.recipes.forms.new_surfaces import NewSurfaceForm
from inventory.sessions.models import Technique
from studio.errors import InputError
from studio.pages.forms import DayInput, KeyedForm, MoneyField, NotesField
from studio.pages.formsets import rows_of

FINISHED, FOR_SALE = "finished", "for_sale"
STATES = [(FINISHED, pgettext_lazy("piece", "Finished")), (FOR_SALE, gettext_lazy("For sale"))]


class BroughtInForm(KeyedForm):
    """The day on which they stood there."""

    on = forms.DateField(label=gettext_lazy("Stock as of"), widget=DayInput)


def usable_locations() -> list[Location]:
    """Where a piece may be without a consignment note."""
    return list(Location.objects.filter(is_active=True).exclude(kind=LocationKind.GALLERY))


class BroughtInRow(NewSurfaceForm):
    """One finished piece. Once it is valid, `facts` are what it says."""

    title = forms.CharField(label=gettext_lazy("Title"), max_length=160)
    surface = MaterialChoice(label=gettext_lazy("Surface"))
    technique = forms.ChoiceField(label=gettext_lazy("Technique"))
    cost = MoneyField(
        label=gettext_lazy("Cost of materials"),
        example=14_000_000,
        help_text=gettext_lazy("Surface, paint and varnish together; a careful guess will do. 0 if unknown."),
    )
    labour = MoneyField(
        label=gettext_lazy("Labour"),
        required=False,
        help_text=gettext_lazy("What your work cost, if you want it counted."),
    )
    overhead = MoneyField(label=gettext_lazy("Overhead"), required=False)
    price = MoneyField(
        label=gettext_lazy("Price"), required=False, help_text=gettext_lazy("What you ask, tax included.")
    )
    state = forms.ChoiceField(label=gettext_lazy("Status"), choices=STATES, initial=FINISHED)
    location = forms.ChoiceField(
        label=gettext_lazy("Location"),
        required=False,
        help_text=gettext_lazy("For a gallery, write a consignment note afterwards."),
    )
    year = forms.IntegerField(
        label=gettext_lazy("Year on papers"), required=False, min_value=FIRST_YEAR, max_value=LAST_YEAR
    )
    size_note = forms.CharField(
        label=gettext_lazy("If it is a set"),
        max_length=60,
        required=False,
        help_text=gettext_lazy("Such as: set of four, diptych."),
    )
    description = NotesField(label=gettext_lazy("Description"), rows=2)

    def __init__(
        self,
        *args: Any,
        surfaces: dict[int, Material],
        techniques: Iterable[Technique],
        locations: Iterable[Location],
        new: NewMaterials,
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.facts: BroughtInPiece | None = None
        cast("MaterialChoice", self.fields["surface"]).offer(surfaces, by_kind(surfaces.values()))
        self.techniques = {str(row.pk): row for row in techniques}
        self.locations = {str(row.pk): row for row in locations}
        self._offer("technique", self.techniques, "")
        self._offer("location", self.locations, gettext_lazy("The studio"))
        self.offer_new(new)

    def _offer(self, name: str, rows: dict[str, Any], blank: Any) -> None:
        field = cast("forms.ChoiceField", self.fields[name])
        field.choices = [
            ("", blank or gettext_lazy("Choose…")),
            *((key, str(row)) for key, row in rows.items()),
        ]

    @property
    def main_fields(self) -> list[forms.BoundField]:
        return [self[name] for name in ("title", "surface", "technique", "cost", "price", "state")]

    @property
    def more_fields(self) -> list[forms.BoundField]:
        names = ("labour", "overhead", "location", "year", "size_note", "description")
        return [self[name] for name in names]

    @property
    def says_more(self) -> bool:
        """Whether something stands in the fields that are folded away."""
        return any(field.value() or field.errors for field in self.more_fields)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        if self.errors or cleaned.get("surface") is None:
            return cleaned
        try:
            self.facts = BroughtInPiece(
                title=cleaned["title"],
                surface=cleaned["surface"],
                technique=self.techniques[cleaned["technique"]],
                cost=cleaned["cost"],
                labour=cleaned["labour"] or 0,
                overhead=cleaned["overhead"] or 0,
                price=cleaned["price"],
                is_for_sale=cleaned["state"] == FOR_SALE,
                location=self.locations.get(cleaned["location"]),
                description=cleaned["description"],
                size_note=cleaned["size_note"],
                year=cleaned["year"],
            )
        except InputError as problem:
            self.refuse(problem)
        return cleaned


BroughtInRows = rows_of(BroughtInRow, at_most=MOST_PIECES)
