"""The form that puts up one photo."""

from django import forms
from django.utils.translation import gettext_lazy

from studio.errors import MeniscusError, PhotoError
from studio.pages.forms import EditForm
from studio.pages.formsets import Rows

ACCEPTED = "image/jpeg,image/png,image/webp"


class PhotoForm(EditForm):
    """One picture file. Its name and declared type are not believed; its content is checked when it is stored."""

    advice = gettext_lazy("Choose your photo again to replace the current one.")
    photo = forms.FileField(
        label=gettext_lazy("Photo"),
        help_text=gettext_lazy("JPEG, PNG or WebP, up to 10 MB. Location data is removed from the file."),
        widget=forms.ClearableFileInput(attrs={"accept": ACCEPTED}),
    )

    def refuse(self, problem: MeniscusError, **formsets: Rows) -> None:
        if isinstance(problem, PhotoError):
            self.add_error("photo", str(problem))
        else:
            super().refuse(problem, **formsets)
