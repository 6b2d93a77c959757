"""What the pages of a count send: corners, a photo, marks."""

from django import forms
from django.utils.translation import gettext_lazy

from inventory.comparisons.actions.counting import MarkFacts
from inventory.comparisons.calculations.counting import Mark
from inventory.sessions.forms.pours import PhotoField
from studio.errors import InputError
from studio.pages.forms import StudioForm
from studio.translation import _
from studio.values.numbers import read_small_whole


class CornersForm(StudioForm):
    """Four points of a photo, in pixels: "12,30 900,25 910,880 8,900"."""

    corners = forms.CharField(widget=forms.HiddenInput, max_length=100, label=gettext_lazy("Corners"))

    def clean_corners(self) -> list[tuple[int, int]]:
        corners = []
        for pair in self.cleaned_data["corners"].split():
            x, _comma, y = pair.partition(",")
            point = read_small_whole(x), read_small_whole(y)
            if point[0] is None or point[1] is None:
                raise forms.ValidationError(_("Tap the four corners of the piece first."))
            corners.append((point[0], point[1]))
        return corners


class PiecePhotoForm(StudioForm):
    photo = PhotoField(
        label=gettext_lazy("Photo of the whole piece"),
        help_text=gettext_lazy("From straight above, the piece filling the picture, without glare."),
    )


def read_mark(text: str) -> MarkFacts:
    """A mark as the page sends it: "key,x,y" or "key,x,y,x2,y2". Raises InputError."""
    key, *figures = text.split(",")
    places = [read_small_whole(figure) for figure in figures]
    if len(places) not in (2, 4) or any(place is None for place in places):
        raise InputError(_("This mark cannot be read. Set it again."), field="marks")
    return MarkFacts(key, Mark(*(place for place in places if place is not None)))
