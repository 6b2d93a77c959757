"""Photos taken at the bench. What is in the file is judged when it is stored, and never stands in a session's way."""

from typing import Any

from django import forms
from django.forms import ChoiceField
from django.utils.translation import gettext_lazy

from inventory.sessions.models import Pour
from studio.pages.forms import StudioForm
from studio.translation import _


class PhotoField(forms.FileField):
    """A picture from the camera of a phone, or a file on a desk. Cleans to the file as it was sent, or None."""

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("required", False)
        kwargs.setdefault("label", gettext_lazy("Photo"))
        camera = {"accept": "image/*", "capture": "environment"}
        super().__init__(widget=forms.FileInput(attrs=camera), **kwargs)

    def clean(self, data: Any, initial: Any = None) -> Any:
        return data or None


class SessionPhotoForm(StudioForm):
    """One more photo for a session that stands: of one of its pours, or of the whole table."""

    photo = PhotoField(help_text=gettext_lazy("Up to 10 MB. Location data is removed from the file."))
    pour = forms.TypedChoiceField(
        label=gettext_lazy("What it shows"), required=False, coerce=int, empty_value=None
    )

    def __init__(self, *args: Any, pours: list[Pour], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        pour = self.fields["pour"]
        if isinstance(pour, ChoiceField):
            pour.choices = [("", _("The whole table")), *((pour.pk, pour.label) for pour in pours)]
