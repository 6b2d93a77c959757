"""Pieces that are given to a gallery, reported as sold, or taken back: ticked, with a price each where there is one."""

from collections.abc import Sequence
from typing import Any

from django import forms
from django.forms.boundfield import BoundField
from django.urls import reverse
from django.utils.html import format_html
from django.utils.translation import gettext_lazy

from costing.consignments.actions import Priced
from costing.locations.forms import TickedPiecesField, WhereForm
from costing.locations.models import Location, LocationKind
from costing.pieces.models import Piece
from studio.pages.forms import DayInput, MoneyField, NotesField
from studio.translation import _


class TickedPiecesForm(WhereForm):
    """Some of the listed pieces, each with the price that is suggested for it."""

    has_prices = True

    pieces = TickedPiecesField()

    def __init__(self, *args: Any, listed: Sequence[tuple[Piece, int | None]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.listed = {piece.pk: piece for piece, _price in listed}
        pieces = self.fields["pieces"]
        if isinstance(pieces, forms.TypedMultipleChoiceField):
            pieces.choices = [(piece.pk, piece.title) for piece, _price in listed]
        for piece, price in listed if self.has_prices else ():
            field = MoneyField(label=gettext_lazy("Price ({currency})"), required=False, initial=price)
            field.write_as(self.formatter)
            field.label = str(field.label).format(currency=self.studio.currency)
            self.fields[f"price-{piece.pk}"] = field

    @property
    def rows(self) -> list[tuple[Any, Piece, BoundField | None]]:
        """Each listed piece with its tick and its price."""
        return [
            (tick, piece, self[f"price-{piece.pk}"] if self.has_prices else None)
            for tick, piece in zip(self["pieces"], self.listed.values(), strict=True)
        ]

    @property
    def facts(self) -> list[BoundField]:
        """The fields that are about all of them."""
        return [
            field for field in self if not field.is_hidden and not field.name.startswith(("pieces", "price-"))
        ]

    @property
    def ticked(self) -> list[Piece]:
        return [self.listed[pk] for pk in self.cleaned_data["pieces"]]

    @property
    def priced(self) -> list[Priced]:
        """What was ticked, with its price; without one zero, which the action refuses."""
        return [Priced(piece, self.cleaned_data.get(f"price-{piece.pk}") or 0) for piece in self.ticked]


class ConsignmentForm(TickedPiecesForm):
    """A new note."""

    gallery = forms.ModelChoiceField(
        Location.objects.filter(kind=LocationKind.GALLERY, is_active=True),
        label=gettext_lazy("Gallery"),
        empty_label=gettext_lazy("Choose…"),
    )
    until = forms.DateField(
        label=gettext_lazy("Until"),
        widget=DayInput,
        required=False,
        help_text=gettext_lazy("Leave blank if you agreed no day."),
    )
    note = NotesField(label=gettext_lazy("Note on the paper"), max_length=1000)
    field_order = ("gallery", "on", "until", "note", "pieces")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        address = f"{reverse('costing:location-new')}?kind={LocationKind.GALLERY}"
        self.fields["gallery"].help_text = format_html('<a href="{}">{}</a>', address, _("Add a gallery"))


class SettleForm(TickedPiecesForm):
    """What the gallery has sold, at the prices that buyers paid."""

    note = None  # type: ignore[assignment]
    field_order = ("on", "pieces")


class TakeBackForm(TickedPiecesForm):
    """What comes back to the studio."""

    has_prices = False
    field_order = ("on", "note", "pieces")
