"""A recipe's parts as text, read into the rows of its form: nothing is saved until somebody has looked at them."""

from typing import Any

from django import forms
from django.http import HttpRequest
from django.utils.translation import gettext_lazy

from inventory.materials.forms.written_lines import rows_so_far
from inventory.materials.name_matching import fitting
from inventory.materials.new_in_place import NewMaterials, find_meant, guessed_kind
from inventory.recipes.forms.recipes import MOST_PARTS, PART_KINDS
from inventory.recipes.written_parts import LONGEST_LINE, WrittenPart, read_parts
from studio.pages.forms import StudioForm
from studio.values.units import Measure


class WrittenPartsForm(StudioForm):
    """The text."""

    use_required_attribute = False  # it is sent with the form around it, which is saved without any text here

    lines = forms.CharField(
        label=gettext_lazy("Parts as you would write them"),
        max_length=MOST_PARTS * LONGEST_LINE,
        widget=forms.Textarea(
            attrs={"rows": 4, "placeholder": "Sail Loft White 2 parts\nLoft medium 3 parts\n½ part water"}
        ),
        help_text=gettext_lazy("One line for each part. They are put into rows for you to check."),
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, prefix="written", **kwargs)

    def rows(self, request: HttpRequest, new: NewMaterials, measure: Measure) -> list[dict[str, Any]]:
        """The rows typed so far, and below them those that are read from the text; what does not fit is an error."""
        return rows_so_far(
            request,
            self,
            lambda: [_row(line, new, measure) for line in read_parts(self.cleaned_data["lines"])],
            prefix="parts",
            at_most=MOST_PARTS,
            untouched={},
        )


def _row(line: WrittenPart, new: NewMaterials, measure: Measure) -> dict[str, Any]:
    row: dict[str, Any] = {"parts": line.parts, "written": line.text}
    known = find_meant(line.name, new.offered)
    if known is not None:
        return row | {"material": known.pk}
    if not new.may_add or fitting(line.name, {pk: material.name for pk, material in new.offered.items()}):
        return row  # one of several, which she chooses
    kind = guessed_kind(line.name, measure)
    return row | {"new_name": line.name[:120], "new_kind": kind.value if kind in PART_KINDS else ""}
