"""Writing a plan: its day, and a row for each surface with colours of its own."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any

from django import forms
from django.forms import BoundField
from django.utils.text import format_lazy
from django.utils.translation import gettext_lazy

from inventory.materials.choices import MaterialChoice
from inventory.materials.models import Kind, Material
from inventory.materials.new_in_place import kind_in
from inventory.materials.written_facts import LONGEST_LINE
from inventory.plans.actions import PlanFacts, PlanLineFacts
from inventory.plans.models import MOST_ON_A_LINE, Plan, PlanSource
from inventory.plans.repeating.changes import Change
from inventory.plans.written_lines import PlannedLine, PlanReader
from inventory.recipes.actions.ratios import MixedByRatio
from inventory.recipes.calculations import ONE_PART
from inventory.recipes.forms.by_ratio import ByRatioForm
from inventory.recipes.forms.choices import FormChoices, offer
from inventory.recipes.forms.new_surfaces import NewSurfaceForm
from inventory.recipes.forms.recipes import PartsField
from inventory.sessions.models import Technique
from inventory.sessions.queries.planning import SetPlan
from studio.errors import InputError
from studio.pages.forms import DayInput, EditForm, KeyedForm, NotesField, PercentField, StudioForm
from studio.pages.formsets import PatternRows, Rows, rows_of
from studio.preferences.formatting import Formatter
from studio.translation import _
from studio.values.quantities import input_text
from studio.values.units import Measure

MOST_LINES, LONGEST_ARM = 200, 60
SPARE_LINES = 1
COLOURS_IN_SIGHT, FEWEST_COLOURS, SPARE_COLOURS, MOST_COLOURS = 3, 6, 3, 60
OUT_OF_RANGE = format_lazy(gettext_lazy("Enter a whole number from 1 to {most}."), most=MOST_ON_A_LINE)
LONGEST_NAME = 120
HOW_MANY = {"min_value": OUT_OF_RANGE, "max_value": OUT_OF_RANGE, "invalid": OUT_OF_RANGE}


class PlanForm(StudioForm):
    """The head of a plan."""

    name = forms.CharField(label=gettext_lazy("Name"), max_length=LONGEST_NAME)
    planned_on = forms.DateField(label=gettext_lazy("Day"), widget=DayInput)
    extra_paint = PercentField(label=gettext_lazy("Extra paint"), required=False)
    include_expired = forms.BooleanField(label=gettext_lazy("Include expired stock"), required=False)
    notes = NotesField(rows=2)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["extra_paint"].help_text = _(
            "Leave blank to use the studio's {share}.", share=self.formatter.percent(self.studio.reserve)
        )

    @property
    def kept_sources(self) -> list[PlanSource]:
        """The recipe versions and lots that the plan keeps to."""
        return []

    def facts(self, lines: Rows) -> PlanFacts:
        """The plan with its lines, once both are valid. Raises InputError."""
        names = ("name", "planned_on", "extra_paint", "include_expired", "notes")
        rows = list(_line_facts(lines.kept))
        return PlanFacts(
            lines=rows,
            versions=[each.version for each in self.kept_sources if each.version is not None],
            lots=[each.lot for each in self.kept_sources if each.lot is not None],
            **{name: self.cleaned_data[name] for name in names},
        )


class NewPlanForm(KeyedForm, PlanForm):
    """A plan that is kept for the first time."""


class PlanEditForm(EditForm, PlanForm):
    """A plan that is changed. What it keeps to has a box to be unticked."""

    def __init__(self, *args: Any, sources: Sequence[PlanSource] = (), **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.sources = {f"source_{each.material_id}": each for each in sources}
        for name, source in self.sources.items():
            self.fields[name] = forms.BooleanField(
                label=source_in_words(source), required=False, initial=True
            )

    @property
    def source_fields(self) -> list[BoundField]:
        return [self[name] for name in self.sources]

    @property
    def kept_sources(self) -> list[PlanSource]:
        return [source for name, source in self.sources.items() if self.cleaned_data[name]]


def source_in_words(source: PlanSource) -> str:
    """What a plan keeps to for a material: "Tide Blue: version 2, lot L0012"."""
    parts = [str(source.version)] if source.version else []
    parts += [_("lot {label}", label=source.lot.label)] if source.lot else []
    return f"{source.material}: {', '.join(parts)}"


class RepeatForm(KeyedForm):
    """Pours made once more: the name and the day of the plan, and a choice for what has changed since."""

    name = forms.CharField(label=gettext_lazy("Name"), max_length=120)
    planned_on = forms.DateField(label=gettext_lazy("Day"), widget=DayInput)

    def __init__(self, *args: Any, changes: Sequence[Change], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.changes = changes
        self.names = {change.name for change in changes if change.options}
        for change in changes:
            if change.options:
                self.fields[change.name] = forms.ChoiceField(
                    label=change.subject, choices=[(each.value, each.label) for each in change.options]
                )

    @property
    def rows(self) -> list[tuple[Change, BoundField | None]]:
        return [
            (each, self[each.name] if each.name in self.names else None)
            for each in self.changes
            if not each.is_minor
        ]

    @property
    def minor(self) -> list[Change]:
        """Changes that there is nothing to decide about."""
        return [each for each in self.changes if each.is_minor]

    @property
    def choices(self) -> dict[str, str]:
        return {name: self.cleaned_data[name] for name in sorted(self.names)}


class SurfacesForm(StudioForm):
    """So many of one surface, by one technique."""

    surface = MaterialChoice(label=gettext_lazy("Surface"))
    count = forms.IntegerField(
        label=gettext_lazy("How many"),
        min_value=1,
        max_value=MOST_ON_A_LINE,
        initial=1,
        error_messages=HOW_MANY,
    )
    technique = forms.TypedChoiceField(
        label=gettext_lazy("Technique"),
        coerce=int,
        empty_value=None,
        error_messages={"required": gettext_lazy("Choose the technique.")},
    )

    def offer_surfaces(self, form_choices: FormChoices) -> None:
        offer(self, "surface", form_choices.surfaces, form_choices.surface_choices)
        self.fields["technique"].choices = form_choices.technique_choices  # type: ignore[attr-defined]

    @property
    def main_fields(self) -> list[BoundField]:
        return [self[name] for name in ("surface", "count", "technique")]


class PlanLineForm(NewSurfaceForm, SurfacesForm):
    """So many of one surface. Without a colour, those of the row above."""

    poured = forms.CharField(
        label=gettext_lazy("Poured on each"),
        max_length=60,
        required=False,
        help_text=gettext_lazy("Leave blank to use what the technique usually takes."),
    )
    arm = forms.CharField(
        label=gettext_lazy("What is different about these?"),
        max_length=LONGEST_ARM,
        required=False,
        help_text=gettext_lazy("For a comparison. They will be compared with the rest."),
    )
    written = forms.CharField(max_length=LONGEST_LINE, required=False, widget=forms.HiddenInput)

    def __init__(
        self, *args: Any, form_choices: FormChoices, colours: int, is_pattern: bool = False, **kwargs: Any
    ) -> None:
        super().__init__(*args, studio=form_choices.studio, **kwargs)
        self.form_choices, self.techniques = form_choices, form_choices.techniques
        if not is_pattern:
            self.offer_surfaces(form_choices)
        self.offer_new(form_choices.new_surfaces)
        self.numbers = range(1, colours + 1)
        for number in self.numbers:
            self.fields[f"colour_{number}"] = MaterialChoice(label=_("Colour {n}", n=number), required=False)
            parts = PartsField(label=_("Parts of colour {n}", n=number), required=False, example="1")
            parts.write_as(self.formatter)
            self.fields[f"parts_{number}"] = parts
            if not is_pattern:
                chosen = form_choices.colour_choices_with(self[f"colour_{number}"].value())
                offer(self, f"colour_{number}", form_choices.colours, chosen)

    @property
    def as_written(self) -> PlannedLine | None:
        """The line that it was read from, so that both can be compared."""
        written = self["written"].value()
        return reader_of(self.form_choices).read(str(written)) if written else None

    @property
    def colour_rows(self) -> list[tuple[BoundField, BoundField]]:
        return [(self[f"colour_{n}"], self[f"parts_{n}"]) for n in self.numbers]

    @property
    def in_sight(self) -> list[tuple[BoundField, BoundField]]:
        return self.colour_rows[:COLOURS_IN_SIGHT]

    @property
    def folded(self) -> list[tuple[BoundField, BoundField]]:
        return self.colour_rows[COLOURS_IN_SIGHT:]

    @property
    def says_more(self) -> bool:
        """Whether the folded colours hold something, or must be put right."""
        return any(field.value() or field.errors for row in self.folded for field in row)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        self.amount = self.read_amount("poured", Measure.VOLUME)
        for number in self.numbers:
            name = f"colour_{number}"
            if cleaned.get(f"parts_{number}") and not cleaned.get(name) and name not in self.errors:
                self.add_error(name, _("Choose the colour for these parts."))
        return cleaned

    @property
    def colours(self) -> list[tuple[Material, int]]:
        cleaned = self.cleaned_data
        return [
            (cleaned[f"colour_{number}"], cleaned[f"parts_{number}"] or ONE_PART)
            for number in self.numbers
            if cleaned[f"colour_{number}"] is not None
        ]


def reader_of(form_choices: FormChoices) -> PlanReader:
    """What reads lines against everything that the form offers."""
    return PlanReader(
        surfaces={pk: item.name for pk, item in form_choices.surfaces.items()},
        techniques={pk: technique.name for pk, technique in form_choices.techniques.items()},
        colours={pk: item.name for pk, item in form_choices.colours.items()},
        is_surface=lambda words: kind_in(words) is Kind.SURFACE,
    )


PlanLines = rows_of(PlanLineForm, at_most=MOST_LINES, formset=PatternRows)


def _line_facts(rows: Sequence[PlanLineForm]) -> Iterator[PlanLineFacts]:
    """The rows as facts, each without a colour in those of the one above. Raises InputError naming the row."""
    above: list[tuple[Material, int]] = []
    for number, row in enumerate(rows, start=1):
        above = row.colours or above
        cleaned = row.cleaned_data
        technique: Technique = row.techniques[cleaned["technique"]]
        try:
            yield PlanLineFacts(
                cleaned["surface"], cleaned["count"], technique, above, cleaned["arm"], row.amount
            )
        except InputError as problem:
            for each in problem.problems:
                each.field = "colour_1" if each.field == "colours" else each.field
            raise problem.on_line(number, rows="lines") from None


def rows_of_plan(plan: Plan, formatter: Formatter, *, hides_arms: bool = False) -> list[dict[str, Any]]:
    """First values for the rows of a plan that is changed."""

    def typed(amount: int) -> str:
        return input_text(amount, Measure.VOLUME, decimal_comma=formatter.decimal_comma)

    return [
        {
            "surface": line.surface_id,
            "count": line.count,
            "technique": line.technique_id,
            "arm": "" if hides_arms else line.arm,
            "poured": "" if line.poured is None else typed(line.poured),
            **_colour_values((colour.material, colour.share) for colour in line.colours.all()),
        }
        for line in plan.lines.all()
    ]


def rows_of_set(plan: SetPlan) -> list[dict[str, Any]]:
    """First values from a question that was asked."""
    return [
        {
            "surface": line.surface.pk,
            "count": line.count,
            "technique": line.technique.pk,
            **_colour_values((colour.material, colour.share) for colour in line.colours),
        }
        for line in plan.lines
    ]


def _colour_values(colours: Iterable[tuple[Material, Any]]) -> dict[str, Any]:
    values: dict[str, Any] = {}
    for number, (material, share) in enumerate(colours, start=1):
        values |= {f"colour_{number}": material.pk, f"parts_{number}": share}
    return values


def colours_for(rows: Sequence[Mapping[str, Any]]) -> int:
    """How many colours every row of the page offers: some more than the row that has the most."""
    used = [
        int(name.removeprefix("colour_"))
        for row in rows
        for name, value in row.items()
        if name.startswith("colour_") and name[7:].isdecimal() and value
    ]
    return min(max([FEWEST_COLOURS, *(number + SPARE_COLOURS for number in used)]), MOST_COLOURS)


class PlanByRatioForm(ByRatioForm, SurfacesForm):
    """Lines made of a ratio: for each medium so many of a surface, in the paints that are ticked."""

    has_shares = True
    field_order = ("surface", "count", "technique", "ratio", "written", "basis")

    def __init__(self, *args: Any, form_choices: FormChoices, **kwargs: Any) -> None:
        super().__init__(*args, form_choices=form_choices, **kwargs)
        self.fields["count"].label = _("How many with each medium")
        self.offer_surfaces(form_choices)

    def rows(self, mixed: Sequence[MixedByRatio]) -> list[dict[str, Any]]:
        """A line for each medium as it would be typed; its arm is the medium where there is more than one."""
        cleaned = self.cleaned_data
        media: dict[Material | None, list[tuple[Material, Any]]] = {}
        for each in mixed:
            media.setdefault(each.medium, []).append((each.recipe.makes, self.typed_parts(each.paint)))
        return [
            {
                "surface": cleaned["surface"].pk,
                "count": cleaned["count"],
                "technique": cleaned["technique"],
                "arm": medium.name[:LONGEST_ARM] if medium is not None and len(media) > 1 else "",
                **_colour_values(colours),
            }
            for medium, colours in media.items()
        ]
