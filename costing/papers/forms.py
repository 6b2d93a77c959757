"""What goes on a price list and how it is printed: read from the address, so that a list can be kept as a bookmark."""

from datetime import date
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy, pgettext_lazy

from costing.papers.price_labels import LabelKind
from costing.papers.price_list import ListStyle
from costing.papers.queries import Order, Pictures, PriceList, price_list
from costing.pieces.calculations import State
from inventory.sessions.models import Technique
from studio.pages.forms import DayInput
from studio.pages.label_sheets import MEASURES, SHEET_FIELDS, LabelSheetForm
from studio.preferences.models import Studio

ORDERS = [
    (Order.TITLE, gettext_lazy("By title")),
    (Order.PRICE, gettext_lazy("By price")),
    (Order.SIZE, gettext_lazy("By size")),
]
LABEL_FIELDS = ("kind", "no_prices", *(name for name in SHEET_FIELDS if name != "grey"))


class PriceListForm(LabelSheetForm):
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
    style = forms.ChoiceField(
        label=gettext_lazy("Style"),
        required=False,
        choices=[
            (ListStyle.LIST.value, gettext_lazy("List")),
            (ListStyle.PICTURES.value, gettext_lazy("List with larger pictures")),
            (ListStyle.GALLERY.value, gettext_lazy("Gallery list: numbered, to hang beside the pieces")),
            (ListStyle.POSTER.value, gettext_lazy("Poster for the stall: pictures and large prices")),
        ],
    )
    photos = forms.BooleanField(label=gettext_lazy("With photos"), required=False)
    reserved = forms.BooleanField(label=gettext_lazy("Include reserved pieces"), required=False)
    kind = forms.ChoiceField(
        label=gettext_lazy("Labels"),
        required=False,
        choices=[
            (LabelKind.PRICE.value, gettext_lazy("Price labels, with a code to scan")),
            (LabelKind.WALL.value, gettext_lazy("Wall labels: title, medium, size")),
        ],
    )
    no_prices = forms.BooleanField(label=gettext_lazy("Leave out the prices"), required=False)
    field_order = ("technique", "order", "place", "on", "paper", "style", "photos", "reserved", "grey")

    @property
    def of_list(self) -> list[forms.BoundField]:
        """The fields that are about the list itself."""
        return [field for field in self if field.name not in (*LABEL_FIELDS, *MEASURES)]

    @property
    def of_labels(self) -> list[forms.BoundField]:
        return [self[name] for name in LABEL_FIELDS]

    @property
    def list_style(self) -> ListStyle:
        return ListStyle(self.cleaned_data["style"] or ListStyle.LIST)

    @property
    def pictures(self) -> Pictures:
        """Which pictures are read for it."""
        if self.list_style == ListStyle.POSTER:
            return Pictures.LARGE
        if self.list_style == ListStyle.PICTURES:
            return Pictures.SMALL
        return Pictures.LISTED if self.cleaned_data["photos"] else Pictures.NONE

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
            pictures=Pictures.NONE,
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
