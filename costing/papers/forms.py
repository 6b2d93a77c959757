"""What goes on a price list and how it is printed: read from the address, so that a list can be kept as a bookmark."""

from datetime import date
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy, pgettext_lazy

from costing.papers.price_labels import LabelKind
from costing.papers.queries import Order, PriceList, price_list
from costing.pieces.calculations import State
from inventory.sessions.models import Technique
from studio.errors import InputError
from studio.pages.forms import DayInput, StudioForm
from studio.papers.frame import paper_named
from studio.papers.labels import GRIDS, MOST_COPIES, LabelGrid, usual_grid
from studio.preferences.models import Studio
from studio.translation import _

ORDERS = [
    (Order.TITLE, gettext_lazy("By title")),
    (Order.PRICE, gettext_lazy("By price")),
    (Order.SIZE, gettext_lazy("By size")),
]
MOST_LABELS = 400
OWN = "own"
MEASURES = ("across", "down", "label_width", "label_height", "left", "top", "gap_x", "gap_y")
LABEL_FIELDS = ("sheet", "kind", "copies", "start", "cut_lines", "no_prices", *MEASURES)


def _measure(label: Any) -> forms.DecimalField:
    """Millimetres to the tenth."""
    return forms.DecimalField(
        label=label, required=False, min_value=0, max_value=300, max_digits=5, decimal_places=2
    )


def _number(label: Any) -> forms.IntegerField:
    return forms.IntegerField(label=label, required=False, min_value=1, max_value=40)


class PriceListForm(StudioForm):
    """The choices of a price list."""

    technique = forms.ModelChoiceField(
        label=gettext_lazy("Technique"),
        queryset=Technique.objects.all(),
        required=False,
        empty_label=gettext_lazy("Any"),
    )
    order = forms.ChoiceField(label=pgettext_lazy("sequence", "Order"), choices=ORDERS)
    place = forms.CharField(
        label=pgettext_lazy("where a price list is used", "Place"),
        max_length=80,
        required=False,
        widget=forms.TextInput(attrs={"placeholder": gettext_lazy("Market, gallery, studio")}),
    )
    on = forms.DateField(label=gettext_lazy("Date"), widget=DayInput)
    paper = forms.ChoiceField(label=gettext_lazy("Paper"), choices=Studio.Paper.choices)
    photos = forms.BooleanField(label=gettext_lazy("With photos"), required=False)
    reserved = forms.BooleanField(label=gettext_lazy("Include reserved pieces"), required=False)
    sheet = forms.ChoiceField(label=gettext_lazy("Sheet"), required=False)
    kind = forms.ChoiceField(
        label=gettext_lazy("Labels"),
        required=False,
        choices=[
            (LabelKind.PRICE.value, gettext_lazy("Price labels, with a code to scan")),
            (LabelKind.WALL.value, gettext_lazy("Wall labels: title, medium, size")),
        ],
    )
    copies = forms.IntegerField(
        label=gettext_lazy("How many of each"), min_value=1, max_value=MOST_COPIES, required=False
    )
    cut_lines = forms.BooleanField(label=gettext_lazy("Print lines to cut along"), required=False)
    no_prices = forms.BooleanField(label=gettext_lazy("Leave out the prices"), required=False)
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
    def of_list(self) -> list[forms.BoundField]:
        """The fields that are about the list itself."""
        return [field for field in self if field.name not in LABEL_FIELDS]

    @property
    def of_labels(self) -> list[forms.BoundField]:
        return [self[name] for name in LABEL_FIELDS if name not in MEASURES]

    @property
    def of_own_sheet(self) -> list[forms.BoundField]:
        return [self[name] for name in MEASURES]

    @property
    def grid(self) -> LabelGrid:
        """The sheet of stickers. Raises InputError, naming a field, for one of her own that cannot be."""
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

    @property
    def states(self) -> list[State]:
        return [State.FOR_SALE, State.RESERVED] if self.cleaned_data["reserved"] else [State.FOR_SALE]

    @property
    def fitting(self) -> PriceList:
        """Everything that fits the choices, without photos."""
        technique = self.cleaned_data["technique"]
        return price_list(
            states=self.states,
            technique=technique.pk if technique else None,
            order=Order(self.cleaned_data["order"]),
            photos=False,
        )

    @property
    def what_fits(self) -> str:
        """Names the choice of technique and state: ticks made under another one do not count."""
        technique = self.cleaned_data["technique"]
        return f"{technique.pk if technique else 0}{'r' if self.cleaned_data['reserved'] else ''}"

    @classmethod
    def first(cls, studio: Studio, on: date) -> dict[str, Any]:
        """The choices a new list begins with."""
        return {
            "order": Order.TITLE.value,
            "paper": studio.paper,
            "on": on.isoformat(),
            "photos": "on",
            "start": "1",
        }
