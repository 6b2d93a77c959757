"""A buyer or a gallery, as it is typed; and the choice of one."""

from typing import TYPE_CHECKING, Any

from django import forms
from django.utils.translation import gettext_lazy

from costing.contacts.models import Contact
from studio.pages.forms import NotesField, RowForm

if TYPE_CHECKING:
    ContactField = forms.ModelChoiceField[Contact]
else:
    ContactField = forms.ModelChoiceField


class ContactChoice(ContactField):
    """One of the contacts, by name."""

    def __init__(self, **kwargs: Any) -> None:
        usual: dict[str, Any] = {
            "queryset": Contact.objects.all(),
            "label": gettext_lazy("Contact"),
            "empty_label": gettext_lazy("Choose…"),
            "required": False,
        }
        super().__init__(**usual | kwargs)

    def label_from_instance(self, obj: Contact) -> str:
        return obj.name


class ContactForm(RowForm):
    """Who it is and how to reach them."""

    reach = NotesField(
        label=gettext_lazy("How to reach"),
        max_length=300,
        help_text=gettext_lazy("An email address, a telephone number, a postal address."),
    )
    note = NotesField(
        label=gettext_lazy("Note"),
        max_length=1000,
        help_text=gettext_lazy("Keep only what you need, and what they may read."),
    )

    class Meta:
        model = Contact
        fields = ("name", "reach", "note")
        labels = {"name": gettext_lazy("Name")}
