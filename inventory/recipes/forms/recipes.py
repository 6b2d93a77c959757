"""Writing a recipe, or a new version of one."""

from collections.abc import Mapping
from typing import Any, cast

from django import forms
from django.forms import BoundField
from django.utils.translation import gettext_lazy

from inventory.materials.choices import MaterialChoice, MaterialRowForm, by_kind, sorted_by_kind
from inventory.materials.models import Kind, Material
from inventory.materials.name_matching import is_plain_water
from inventory.materials.new_in_place import NewMaterials, make_free_water
from inventory.recipes.actions.recipes import MIXABLE
from inventory.recipes.forms.choices import offer
from inventory.recipes.models import Basis
from inventory.recipes.written_parts import WrittenPart, read_part
from studio.errors import InputError, MeniscusError
from studio.pages.colour_input import ColourInput
from studio.pages.forms import EditForm, NotesField, StudioForm, TypedField
from studio.pages.formsets import Rows, rows_of
from studio.translation import _
from studio.values.numbers import format_scaled, in_own_mark, read_number, tidy
from studio.values.units import Measure

MOST_PARTS = 100
SPARE_PARTS = 3
LARGEST_PART = 100_000_000
MADE_KINDS = (Kind.MIX, Kind.MEDIUM, Kind.FINISH)
PART_KINDS = (Kind.PAINT, Kind.MEDIUM, Kind.ADDITIVE, Kind.FINISH)


class PartsField(TypedField):
    """So many parts, in thousandths of a part: "2", "1.5", "1 1/2"."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(**{"max_length": 12, "example": "2", **kwargs})
        self.widget.attrs.setdefault("inputmode", "decimal")

    def read(self, text: str) -> int:
        tidied = tidy(text, example=_("2 or 1 1/2"))
        if self._is_amount(tidied):
            raise InputError(
                _(
                    "“{text}” is an amount, and a recipe is in parts. Enter a small part instead, such as {example}.",
                    text=tidied,
                    example=self.write(100),
                )
            )
        plain = in_own_mark(tidied, decimal_comma=self.formatter.decimal_comma)
        exact = read_number(plain, decimal_comma=self.formatter.decimal_comma) * 1000
        if exact <= 0 or exact.denominator != 1 or exact > LARGEST_PART:
            raise InputError(
                _(
                    "“{text}” must be above zero and have at most three decimals. Enter parts as 2 or 1 1/2.",
                    text=tidied,
                )
            )
        return int(exact)

    def _is_amount(self, text: str) -> bool:
        """Whether it is typed with a unit: "a splash", "5 ml"."""
        try:
            self.formatter.read(text)
        except InputError:
            return False
        return True

    def write(self, amount: int) -> str:
        return format_scaled(amount, 3, decimal_comma=self.formatter.decimal_comma)


def part_materials() -> dict[int, Material]:
    """Everything that can be part of a mix, kinds together, then by name."""
    return sorted_by_kind(Material.objects.filter(is_archived=False, measure__in=MIXABLE))


class PartsForm(StudioForm):
    """How the parts are measured, and why so."""

    basis = forms.ChoiceField(
        label=gettext_lazy("Measure parts"), choices=Basis.choices, initial=Basis.VOLUME
    )
    notes = NotesField()


class VersionForm(EditForm, PartsForm):
    """A new version of a recipe, or a better one in place of the latest."""


class RecipeForm(PartsForm):
    """A new recipe: its name, and what it makes, which is a new material unless one is chosen."""

    name = forms.CharField(label=gettext_lazy("Recipe name"), max_length=120)
    makes = MaterialChoice(
        label=gettext_lazy("It makes"),
        required=False,
        help_text=gettext_lazy("Choose a material you already keep, or leave it as something new."),
    )
    new_name = forms.CharField(
        label=gettext_lazy("Name of the mix"),
        max_length=120,
        required=False,
        help_text=gettext_lazy("Leave blank to use the name of the recipe."),
    )
    kind = forms.ChoiceField(
        label=gettext_lazy("Kind"),
        choices=[(kind.value, kind.label) for kind in MADE_KINDS],
        initial=Kind.MIX,
    )
    measure = forms.ChoiceField(
        label=gettext_lazy("Measured in"),
        choices=[("volume", gettext_lazy("Volume (mL)")), ("mass", gettext_lazy("Mass (g)"))],
        initial="volume",
    )
    colour = forms.CharField(
        label=gettext_lazy("Colour"),
        max_length=7,
        required=False,
        help_text=gettext_lazy("For the swatch, such as #1f5f6b. It can be taken from a photo later."),
        widget=ColourInput,
    )
    keeps_days = forms.IntegerField(
        label=gettext_lazy("Shelf life in days"),
        min_value=1,
        max_value=3650,
        required=False,
        help_text=gettext_lazy("Once mixed. Leave blank for no reminder."),
    )

    def __init__(self, *args: Any, materials: Mapping[int, Material], made: set[int], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        free = {pk: item for pk, item in materials.items() if pk not in made and not item.is_free}
        offer(self, "makes", free, [("", _("Something new")), *by_kind(free.values())[1:]])

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        if cleaned.get("makes") is not None and cleaned.get("new_name"):
            self.add_error("new_name", _("Choose what it makes or name something new, not both."))
        return cleaned

    @property
    def new_fields(self) -> list[BoundField]:
        """What is asked of a new material besides its name."""
        return [self[name] for name in ("kind", "measure", "colour", "keeps_days")]

    @property
    def what_it_makes(self) -> Material:
        cleaned = self.cleaned_data
        chosen: Material | None = cleaned["makes"]
        return chosen or Material(
            name=cleaned["new_name"] or cleaned["name"],
            kind=cleaned["kind"],
            measure=cleaned["measure"],
            colour=cleaned["colour"].strip(),
            keeps_days=cleaned["keeps_days"],
        )

    def refuse(self, problem: MeniscusError, **formsets: Rows) -> None:
        """The only name that is refused by its field is that of the new material."""
        for each in problem.problems if isinstance(problem, InputError) else ():
            if each.field == "name":
                each.field = "new_name"
        super().refuse(problem, **formsets)


class PartForm(MaterialRowForm):
    """So many parts of one material, which may be new: measured as the parts are. Blank rows are left out."""

    amount_field = "parts"
    parts = PartsField(label=gettext_lazy("Parts"))

    def __init__(self, *args: Any, new_measure: Measure = Measure.VOLUME, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.new_measure = new_measure
        if self.may_name_new:
            kinds = [("", _("By its name")), *((kind.value, kind.label) for kind in PART_KINDS)]
            cast("forms.ChoiceField", self.fields["new_kind"]).choices = kinds

    @property
    def as_written(self) -> WrittenPart | None:  # type: ignore[override]
        """The line that it was read from, so that both can be compared."""
        written = self["written"].value()
        return self.with_hint(read_part(str(written))) if written else None

    def amount_of(self, material: Material, cleaned: dict[str, Any]) -> int | None:
        parts: int | None = cleaned.get("parts")
        return parts

    def make_new(self, new: NewMaterials, name: str, kind: str, amount: Any) -> Material:
        material = new.of_measure(name, kind, self.new_measure, self.formatter)
        if material.pk is None and is_plain_water(name):
            make_free_water(material)
        return material

    def make_facts(self, material: Material, amount: int, cleaned: dict[str, Any]) -> tuple[Material, int]:
        return material, amount


PartRows = rows_of(PartForm, at_most=MOST_PARTS)


def typed_parts(formset: Rows) -> list[tuple[Material, int]]:
    """The rows that say something, for the writer."""
    return [row.facts for row in formset.kept]
