"""The question “Do I have enough?”: asked by a GET form, so that its address can be kept and shared."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from django import forms
from django.forms import BoundField
from django.http import QueryDict
from django.utils.text import format_lazy
from django.utils.translation import gettext_lazy

from inventory.materials.choices import MaterialChoice
from inventory.materials.models import POURED_KINDS, Kind, Material
from inventory.recipes.actions.recipes import MIXABLE
from inventory.recipes.calculations import ONE_PART
from inventory.recipes.forms.recipes import PartsField
from inventory.recipes.queries import held
from inventory.sessions.models import Technique
from inventory.sessions.queries.planning import Colour, SetLine, SetPlan
from studio.pages.forms import PercentField, StudioForm
from studio.preferences.formatting import Formatter
from studio.preferences.models import Studio
from studio.translation import _, pgettext

MOST_COLOURS = 6
COLOURS_IN_SIGHT = 3
MOST_SURFACES = 999
OUT_OF_RANGE = format_lazy(gettext_lazy("Enter a whole number from 1 to {most}."), most=MOST_SURFACES)
HOW_MANY = {"min_value": OUT_OF_RANGE, "max_value": OUT_OF_RANGE, "invalid": OUT_OF_RANGE}
# Thousandths of a gram.
SCALES = [("10", "0.01 g"), ("100", "0.1 g"), ("1000", "1 g")]
USUAL_SCALE = "100"


@dataclass(frozen=True, slots=True)
class Offered:
    """The surfaces and colours that can be planned with, read once for all fields."""

    surfaces: dict[int, Material]
    colours: dict[int, Material]
    surface_choices: list[tuple[str, Any]]
    colour_choices: list[tuple[str, Any]]

    @classmethod
    def read(cls, formatter: Formatter) -> "Offered":
        stock = held()
        materials = list(
            Material.objects.filter(is_archived=False, is_free=False)
            .select_related("recipe")
            .order_by("name")
        )
        surfaces = [item for item in materials if item.kind == Kind.SURFACE]
        poured = [item for item in materials if item.kind in POURED_KINDS and item.measure in MIXABLE]
        mixed = [item for item in poured if _is_mixed(item)]
        bought = [item for item in poured if not hasattr(item, "recipe")]

        def named(items: Iterable[Material]) -> list[tuple[str, str]]:
            return [(str(item.pk), _with_stock(item, stock.get(item.pk, 0), formatter)) for item in items]

        groups = [(_("Mixed by a recipe"), named(mixed)), (_("Unmixed from a bottle"), named(bought))]
        return cls(
            {item.pk: item for item in surfaces},
            {item.pk: item for item in (*mixed, *bought)},
            named(surfaces),
            [(label, choices) for label, choices in groups if choices],
        )


def _is_mixed(material: Material) -> bool:
    recipe = getattr(material, "recipe", None)
    return recipe is not None and not recipe.is_archived


def _with_stock(material: Material, amount: int, formatter: Formatter) -> str:
    left = formatter.short_quantity(amount, material.measure) if amount else _("none in stock")
    return f"{material.name} ({left})"


class StockCheckForm(StudioForm):
    """One or two kinds of surface, poured in up to six colours."""

    surface = MaterialChoice(
        label=gettext_lazy("Surface"), error_messages={"required": gettext_lazy("Choose what you pour on.")}
    )
    count = forms.IntegerField(
        label=gettext_lazy("How many"),
        min_value=1,
        max_value=MOST_SURFACES,
        initial=1,
        error_messages=HOW_MANY,
    )
    technique = forms.ModelChoiceField(
        Technique.objects.all(), label=gettext_lazy("Technique"), empty_label=gettext_lazy("Choose…")
    )
    surface_2 = MaterialChoice(label=gettext_lazy("Second surface"), required=False)
    count_2 = forms.IntegerField(
        label=gettext_lazy("How many of it"),
        min_value=1,
        max_value=MOST_SURFACES,
        required=False,
        error_messages=HOW_MANY,
    )
    technique_2 = forms.ModelChoiceField(
        Technique.objects.all(),
        label=gettext_lazy("Its technique"),
        empty_label=gettext_lazy("The same"),
        required=False,
    )
    reserve = PercentField(label=gettext_lazy("Extra paint"), required=False)
    scale = forms.ChoiceField(label=gettext_lazy("Scale precision"), choices=SCALES, initial=USUAL_SCALE)
    past_best = forms.BooleanField(label=gettext_lazy("Include expired stock"), required=False)

    def __init__(self, *args: Any, offered: Offered, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.offered = offered
        self.fields["reserve"].help_text = _(
            "Leave blank to use the studio's {share}.", share=self.formatter.percent(self.studio.reserve)
        )
        for number in range(1, MOST_COLOURS + 1):
            self.fields[f"colour_{number}"] = MaterialChoice(label=_("Colour {n}", n=number), required=False)
            parts = PartsField(label=_("Parts of colour {n}", n=number), required=False, example="1")
            parts.formatter = self.formatter
            self.fields[f"parts_{number}"] = parts
            self._offer(f"colour_{number}", offered.colours, [("", _("Not used")), *offered.colour_choices])
        self._offer("surface", offered.surfaces, [("", _("Choose…")), *offered.surface_choices])
        self._offer(
            "surface_2",
            offered.surfaces,
            [("", pgettext("no second surface", "None")), *offered.surface_choices],
        )

    @classmethod
    def from_query(cls, query: QueryDict, *, studio: Studio, formatter: Formatter) -> "StockCheckForm":
        """The question as an address puts it."""
        data = query.copy()
        data.setdefault("scale", USUAL_SCALE)
        return cls(data, studio=studio, offered=Offered.read(formatter))

    def _offer(self, name: str, materials: dict[int, Material], choices: list[tuple[str, Any]]) -> None:
        field = self.fields[name]
        if isinstance(field, MaterialChoice):
            field.offer(materials, choices)

    @property
    def colour_rows(self) -> list[tuple[BoundField, BoundField]]:
        return [(self[f"colour_{n}"], self[f"parts_{n}"]) for n in range(1, COLOURS_IN_SIGHT + 1)]

    @property
    def more_colour_rows(self) -> list[tuple[BoundField, BoundField]]:
        return [
            (self[f"colour_{n}"], self[f"parts_{n}"]) for n in range(COLOURS_IN_SIGHT + 1, MOST_COLOURS + 1)
        ]

    @property
    def has_more_colours(self) -> bool:
        return any(field.value() for row in self.more_colour_rows for field in row)

    @property
    def says_more(self) -> bool:
        """Whether the folded fields hold something, or must be put right."""
        fields = [self[name] for name in ("surface_2", "count_2", "technique_2")]
        return any(field.value() or field.errors for field in fields)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        self._check_colours(cleaned)
        if cleaned.get("surface_2") is not None and not cleaned.get("count_2"):
            if "count_2" not in self.errors:
                self.add_error("count_2", _("Enter how many of the second surface."))
        elif cleaned.get("count_2") and "surface_2" not in self.errors and not cleaned.get("surface_2"):
            self.add_error("surface_2", _("Choose the second surface, or clear its number."))
        return cleaned

    def _check_colours(self, cleaned: dict[str, Any]) -> None:
        seen: set[int] = set()
        for number in range(1, MOST_COLOURS + 1):
            colour = cleaned.get(f"colour_{number}")
            if colour is None:
                if cleaned.get(f"parts_{number}") and f"colour_{number}" not in self.errors:
                    self.add_error(f"colour_{number}", _("Choose the colour for these parts."))
                continue
            if colour.pk in seen:
                self.add_error(
                    f"colour_{number}",
                    _("{colour} is chosen twice. Add its parts together.", colour=colour.name),
                )
            seen.add(colour.pk)
        if not seen and not self.errors:
            self.add_error("colour_1", _("Choose at least one colour."))

    def plan(self) -> SetPlan:
        """The set to be poured, once the form is valid."""
        cleaned = self.cleaned_data
        colours = [
            Colour(cleaned[f"colour_{n}"], cleaned[f"parts_{n}"] or ONE_PART)
            for n in range(1, MOST_COLOURS + 1)
            if cleaned[f"colour_{n}"] is not None
        ]
        lines = [SetLine(cleaned["surface"], cleaned["count"], cleaned["technique"], colours)]
        if cleaned["surface_2"] is not None:
            technique = cleaned["technique_2"] or cleaned["technique"]
            lines.append(SetLine(cleaned["surface_2"], cleaned["count_2"], technique, colours))
        return SetPlan(
            lines,
            reserve=self.studio.reserve if cleaned["reserve"] is None else cleaned["reserve"],
            include_past_best=cleaned["past_best"],
            scale_step=int(cleaned["scale"]),
        )
