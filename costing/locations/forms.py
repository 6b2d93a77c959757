"""Where pieces are taken, lent or reserved, as it is typed; and the locations themselves."""

from typing import Any, ClassVar

from django import forms
from django.utils import timezone
from django.utils.html import format_html
from django.utils.translation import gettext_lazy

from costing.contacts.forms import ContactChoice
from costing.locations.actions import Person
from costing.locations.models import Location, LocationKind
from costing.pieces.models import Piece
from costing.pricing.models import FIGURES, ChannelTerms, Payment, SalesChannel
from studio.errors import InputError
from studio.pages.forms import AskingForm, DayInput, KeyedForm, PercentField, RowForm
from studio.translation import _

STUDIO = "studio"


class TickedPiecesField(forms.TypedMultipleChoiceField):
    """Pieces of a list that are ticked; the form sets its choices."""

    widget = forms.CheckboxSelectMultiple
    default_error_messages: ClassVar = {
        "required": gettext_lazy("Tick at least one piece."),
        "invalid_choice": gettext_lazy("Tick pieces of the list."),
    }

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(coerce=int, **kwargs)


class LocationForm(RowForm):
    """A gallery or a market box."""

    channel = forms.ModelChoiceField(
        SalesChannel.objects.filter(is_active=True),
        label=gettext_lazy("Sales channel"),
        required=False,
        empty_label=gettext_lazy("None"),
        help_text=gettext_lazy("For a gallery: its terms say what it keeps of a price."),
    )
    contact = ContactChoice(empty_label=gettext_lazy("None"))

    class Meta:
        model = Location
        fields = ("name", "kind", "channel", "contact")
        labels = {"name": gettext_lazy("Name"), "kind": gettext_lazy("Kind")}
        help_texts = {"name": gettext_lazy("Such as Market box 1, or the name of a gallery.")}


class NewLocationForm(LocationForm):
    """A new one. A gallery is typed once: its sales channel and its contact come of it, unless they are there."""

    commission = PercentField(
        label=gettext_lazy("What the gallery keeps"),
        required=False,
        help_text=gettext_lazy(
            "If it has no sales channel yet: one with its name and this commission is added."
        ),
    )
    adds_contact = forms.BooleanField(
        label=gettext_lazy("Add it to the contacts too"),
        required=False,
        initial=True,
        help_text=gettext_lazy("Unless you chose a contact. For a gallery only."),
    )
    field_order = ("name", "kind", "commission", "channel", "adds_contact", "contact")

    def __init__(self, *args: Any, may_add_channel: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if not may_add_channel:
            del self.fields["commission"]

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        commission = cleaned.get("commission")
        if cleaned.get("kind") != LocationKind.GALLERY or commission is None:
            return cleaned
        if cleaned.get("channel") is not None:
            self.add_error(
                "commission", _("Its sales channel says this. Leave this blank, or choose no sales channel.")
            )
        elif name := cleaned.get("name"):
            cleaned["channel"] = SalesChannel(name=name, payment=Payment.GALLERY)
        return cleaned

    @property
    def terms(self) -> ChannelTerms:
        """Of the sales channel that is added with it."""
        none = dict.fromkeys((*FIGURES, "commission_before_tax"), 0)
        return ChannelTerms(
            **none | {"commission": self.cleaned_data.get("commission"), "commission_before_tax": True}
        )


class WhereForm(KeyedForm):
    """A day, and a note about what was done with a piece."""

    on = forms.DateField(label=gettext_lazy("Day"), widget=DayInput, initial=timezone.localdate)
    note = forms.CharField(label=gettext_lazy("Note"), max_length=200, required=False)


class MoveForm(WhereForm):
    """Pieces that were ticked, and where they go: `to` is None for the studio."""

    to = forms.ChoiceField(
        label=gettext_lazy("Move to"),
        help_text=gettext_lazy("For a gallery, write a consignment note instead."),
    )
    pieces = TickedPiecesField()
    field_order = ("to", "on", "note", "pieces")

    def __init__(self, *args: Any, listed: list[tuple[Piece, str]], **kwargs: Any) -> None:
        """`listed` are the pieces that can be ticked, each with where it is."""
        super().__init__(*args, **kwargs)
        self.locations = {
            str(row.pk): row for row in Location.objects.filter(is_active=True, kind=LocationKind.BOX)
        }
        to, pieces = self.fields["to"], self.fields["pieces"]
        if isinstance(to, forms.ChoiceField):
            names = [(key, row.name) for key, row in self.locations.items()]
            to.choices = [("", gettext_lazy("Choose…")), (STUDIO, gettext_lazy("The studio")), *names]
        if isinstance(pieces, forms.TypedMultipleChoiceField):
            pieces.choices = [
                (
                    piece.pk,
                    format_html(
                        '<strong>{}</strong> {} <span class="quiet">{}</span>',
                        piece.title,
                        piece.label,
                        where,
                    ),
                )
                for piece, where in listed
            ]

    def clean_to(self) -> Location | None:
        return self.locations.get(self.cleaned_data["to"])


class PersonForm(AskingForm, WhereForm):
    """For whom or to whom, and until when."""

    contact = ContactChoice()
    new_name = forms.CharField(
        label=gettext_lazy("Or a new contact"),
        max_length=80,
        required=False,
        help_text=gettext_lazy("A name is enough. You can add how to reach them later."),
    )
    until = forms.DateField(label=gettext_lazy("Until"), widget=DayInput, required=False)
    field_order = ("contact", "new_name", "until", "on", "note")

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        try:
            cleaned["to"] = Person(cleaned.pop("contact", None), cleaned.pop("new_name", ""))
        except InputError as problem:
            self.add_error("contact", str(problem))
        return cleaned
