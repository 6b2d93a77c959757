"""Which sheet of stickers labels are printed on, and where on it they begin."""

from dataclasses import replace
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy, pgettext_lazy

from studio.errors import InputError
from studio.pages.forms import StudioForm
from studio.pages.papers import grey_field
from studio.papers.frame import paper_named
from studio.papers.labels import GRIDS, MOST_COPIES, LabelGrid, usual_grid
from studio.preferences.models import Studio
from studio.translation import _

MOST_LABELS = 400
OWN = "own"
MEASURES = ("across", "down", "label_width", "label_height", "left", "top", "gap_x", "gap_y")
SHEET_FIELDS = ("sheet", "copies", "start", "cut_lines", "grey")


def _measure(label: Any) -> forms.DecimalField:
    """Millimetres to the tenth."""
    return forms.DecimalField(
        label=label, required=False, min_value=0, max_value=300, max_digits=5, decimal_places=2
    )


def _number(label: Any) -> forms.IntegerField:
    return forms.IntegerField(label=label, required=False, min_value=1, max_value=40)


class LabelSheetForm(StudioForm):
    """The sheet, by measure or measured by the owner; how many of each label, from which place on."""

    paper = forms.ChoiceField(label=gettext_lazy("Paper"), choices=Studio.Paper.choices)
    sheet = forms.ChoiceField(label=pgettext_lazy("of labels", "Sheet"), required=False)
    copies = forms.IntegerField(
        label=gettext_lazy("How many of each"), min_value=1, max_value=MOST_COPIES, required=False
    )
    cut_lines = forms.BooleanField(label=gettext_lazy("Print lines to cut along"), required=False)
    grey = grey_field()
    across = _number(gettext_lazy("Labels in a row"))
    down = _number(gettext_lazy("Rows of labels"))
    label_width = _measure(gettext_lazy("Label width (mm)"))
    label_height = _measure(gettext_lazy("Label height (mm)"))
    left = _measure(gettext_lazy("Left margin (mm)"))
    top = _measure(gettext_lazy("Top margin (mm)"))
    gap_x = _measure(gettext_lazy("Gap between columns (mm)"))
    gap_y = _measure(gettext_lazy("Gap between rows (mm)"))
    start = forms.IntegerField(
        label=gettext_lazy("Start at label number"),
        min_value=1,
        max_value=MOST_LABELS,
        help_text=gettext_lazy("For labels: counted along the rows, 1 for a new sheet."),
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        sheet = self.fields["sheet"]
        if isinstance(sheet, forms.ChoiceField):
            presets = [(name, grid.words) for name, grid in GRIDS.items()]
            sheet.choices = [("", _("As the paper above")), *presets, (OWN, _("My own sheet"))]

    @property
    def of_sheet(self) -> list[forms.BoundField]:
        return [self[name] for name in SHEET_FIELDS]

    @property
    def of_own_sheet(self) -> list[forms.BoundField]:
        return [self[name] for name in MEASURES]

    @property
    def grid(self) -> LabelGrid:
        """The sheet of stickers. Raises InputError, naming a field, for one of her own that cannot be."""
        grid = self._grid()
        return replace(grid, paper=grid.paper._replace(is_grey=bool(self.cleaned_data["grey"])))

    def _grid(self) -> LabelGrid:
        sent = self.cleaned_data
        if sent["sheet"] != OWN:
            return GRIDS[sent["sheet"] or usual_grid(sent["paper"])]
        missing = next((name for name in MEASURES[:4] if not sent[name]), None)
        if missing:
            raise InputError(_("Enter this measure of your own sheet."), field=missing)
        width, height, left, top, gap_x, gap_y = (float(sent[name] or 0) for name in MEASURES[2:])
        try:
            return LabelGrid(
                paper_named(sent["paper"]),
                sent["across"],
                sent["down"],
                width,
                height,
                left,
                top,
                width + gap_x,
                height + gap_y,
            )
        except InputError as problem:
            raise InputError(str(problem), field=f"label_{problem.field}") from None
