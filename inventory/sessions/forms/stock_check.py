"""The question “Do I have enough?”: asked by a GET form, so that its address can be kept and shared."""

from typing import Any

from django import forms
from django.forms import BoundField
from django.http import QueryDict
from django.utils.text import format_lazy
from django.utils.translation import gettext_lazy

from inventory.materials.choices import MaterialChoice
from inventory.recipes.calculations import ONE_PART
from inventory.recipes.forms.choices import FormChoices, offer
from inventory.recipes.forms.recipes import PartsField
from inventory.sessions.models import Technique
from inventory.sessions.queries.planning import Colour, SetLine, SetPlan
from studio.pages.forms import DayInput, PercentField, StudioForm
from studio.translation import _, pgettext

COLOURS_IN_SIGHT, FEWEST_COLOURS, SPARE_COLOURS, MOST_COLOURS = 3, 6, 3, 60
MOST_SURFACES = 999
OUT_OF_RANGE = format_lazy(gettext_lazy("Enter a whole number from 1 to {most}."), most=MOST_SURFACES)
HOW_MANY = {"min_value": OUT_OF_RANGE, "max_value": OUT_OF_RANGE, "invalid": OUT_OF_RANGE}


class StockCheckForm(StudioForm):
    """One or two kinds of surface, poured in as many colours as the address names, with some to spare."""

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
    planned_on = forms.DateField(
        label=gettext_lazy("Day"),
        widget=DayInput,
        required=False,
        help_text=gettext_lazy("Leave blank for today. What plans reserve is left alone."),
    )
    reserve = PercentField(label=gettext_lazy("Extra paint"), required=False)
    include_expired = forms.BooleanField(label=gettext_lazy("Include expired stock"), required=False)

    def __init__(self, *args: Any, form_choices: FormChoices, **kwargs: Any) -> None:
        super().__init__(*args, studio=form_choices.studio, **kwargs)
        self.surfaces, self.colours = form_choices.surfaces, form_choices.colours
        self.fields["reserve"].help_text = _(
            "Leave blank to use the studio's {share}.", share=self.formatter.percent(self.studio.reserve)
        )
        self.numbers = self._colour_numbers()
        for number in self.numbers:
            self.fields[f"colour_{number}"] = MaterialChoice(label=_("Colour {n}", n=number), required=False)
            parts = PartsField(label=_("Parts of colour {n}", n=number), required=False, example="1")
            parts.write_as(self.formatter)
            self.fields[f"parts_{number}"] = parts
            offer(self, f"colour_{number}", self.colours, form_choices.colour_choices)
        surfaces = form_choices.surface_choices
        offer(self, "surface", self.surfaces, surfaces)
        offer(self, "surface_2", self.surfaces, [("", pgettext("no second surface", "None")), *surfaces[1:]])

    def _colour_numbers(self) -> range:
        used = [number for number in range(1, MOST_COLOURS + 1) if self.data.get(f"colour_{number}")]
        most = max([FEWEST_COLOURS, *(number + SPARE_COLOURS for number in used)])
        return range(1, min(most, MOST_COLOURS) + 1)

    @classmethod
    def from_query(cls, query: QueryDict, *, form_choices: FormChoices) -> "StockCheckForm":
        """The question as an address puts it."""
        return cls(query, form_choices=form_choices)

    @property
    def can_plan(self) -> bool:
        """Whether there is anything to pour, and to pour on."""
        return bool(self.surfaces and self.colours)

    @property
    def colour_rows(self) -> list[tuple[BoundField, BoundField]]:
        return [(self[f"colour_{n}"], self[f"parts_{n}"]) for n in self.numbers]

    @property
    def has_more_colours(self) -> bool:
        return any(field.value() for row in self.colour_rows[COLOURS_IN_SIGHT:] for field in row)

    @property
    def first_fields(self) -> list[BoundField]:
        return [self[name] for name in ("surface", "count", "technique")]

    @property
    def second_fields(self) -> list[BoundField]:
        return [self[f"{field.name}_2"] for field in self.first_fields]

    @property
    def says_more(self) -> bool:
        """Whether the folded fields hold something, or must be put right."""
        return any(field.value() or field.errors for field in self.second_fields)

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
        for number in self.numbers:
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
            for n in self.numbers
            if cleaned[f"colour_{n}"] is not None
        ]
        lines = [SetLine(cleaned["surface"], cleaned["count"], cleaned["technique"], colours)]
        if cleaned["surface_2"] is not None:
            technique = cleaned["technique_2"] or cleaned["technique"]
            lines.append(SetLine(cleaned["surface_2"], cleaned["count_2"], technique, colours))
        return SetPlan(
            lines,
            reserve=self.studio.reserve if cleaned["reserve"] is None else cleaned["reserve"],
            include_expired=cleaned["include_expired"],
        )
