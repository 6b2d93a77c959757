"""A plan's lines as text, read into the rows of its form: nothing is saved until somebody has looked at them."""

from typing import Any

from django import forms
from django.http import HttpRequest
from django.utils.translation import gettext_lazy

from inventory.materials.forms.written_lines import rows_so_far
from inventory.materials.new_in_place import size_in
from inventory.materials.written_facts import LONGEST_LINE, MOST_WRITTEN
from inventory.plans.forms.plans import MOST_COLOURS, MOST_LINES, reader_of
from inventory.plans.written_lines import PlannedLine
from inventory.recipes.forms.choices import FormChoices
from studio.pages.forms import StudioForm


class WrittenPlanForm(StudioForm):
    """The text."""

    use_required_attribute = False  # it is sent with the form around it, which is saved without any text here

    lines = forms.CharField(
        label=gettext_lazy("What you plan, as you would write it"),
        max_length=MOST_WRITTEN * LONGEST_LINE,
        widget=forms.Textarea(
            attrs={"rows": 4, "placeholder": gettext_lazy("6 boards 20x20 ring pour, white 3 / blue 1")}
        ),
        help_text=gettext_lazy(
            "One line for each kind of surface: how many, technique, colours and their parts. They are put into rows "
            "for you to check."
        ),
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, prefix="written", **kwargs)

    def rows(self, request: HttpRequest, form_choices: FormChoices) -> list[dict[str, Any]]:
        """The rows typed so far, and below them those that are read from the text; what does not fit is an error."""
        reader = reader_of(form_choices)
        return rows_so_far(
            request,
            self,
            lambda: [_row(line, form_choices) for line in reader.read_lines(self.cleaned_data["lines"])],
            at_most=MOST_LINES,
            untouched={"count": "1"},
        )


def _row(line: PlannedLine, form_choices: FormChoices) -> dict[str, Any]:
    """A line as it would be typed; a technique that it does not name is the one used last, as on any new row."""
    row: dict[str, Any] = {
        "surface": line.surface,
        "count": line.count,
        "technique": line.technique or form_choices.usual_technique,
        "poured": line.poured,
        "written": line.text,
    }
    if form_choices.may_add and line.new_surface and size_in(line.new_surface, form_choices.formatter):
        row["new_surface"] = line.new_surface[:120]
    for number, colour in enumerate(line.colours[:MOST_COLOURS], start=1):
        row |= {f"colour_{number}": colour.material, f"parts_{number}": colour.parts}
    return row
