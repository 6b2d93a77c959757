"""Several pieces at once: one row each, and what is done with all that are ticked."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, cast

from django import forms
from django.core.files.uploadedfile import UploadedFile
from django.http import QueryDict
from django.utils.datastructures import MultiValueDict
from django.utils.translation import gettext_lazy, pgettext_lazy

from costing.pieces.actions.pieces import WorkFacts
from costing.pieces.actions.together import FINISHES, NO_WORK, PieceAmong, TogetherFacts
from costing.pieces.calculations import State
from costing.pieces.forms.pieces import MOST_MINUTES, WorkForm, ingredients
from costing.pieces.models import HIGHEST_NUMBER, Piece
from inventory.sessions.models import Pour, SessionPhoto
from studio.auditing.edit_conflicts import EditConflict
from studio.errors import MeniscusError, PhotoError
from studio.pages.forms import EditForm, MoneyField
from studio.pages.formsets import Rows, rows_of
from studio.pages.photo_form import ACCEPTED
from studio.photos import read_picture
from studio.preferences.models import Studio
from studio.translation import _

MOST_PIECES = 200


@dataclass(frozen=True, slots=True)
class Candidate:
    """A pour that may become a piece, or a piece that may be taken on; and the photos that it may take over.

    `seen` is the last change of the piece that the page has seen; `charged` what its session charged to it.
    """

    pours: Sequence[Pour]
    piece: Piece | None = None
    photos: Sequence[SessionPhoto] = ()
    seen: int = 0
    title: str = ""
    charged: int = 0

    @property
    def key(self) -> str:
        return f"piece-{self.piece.pk}" if self.piece else f"pour-{self.pours[0].pk}"

    @property
    def is_offered(self) -> bool:
        return self.piece is not None and self.piece.state in (State.FOR_SALE, State.RESERVED)

    @property
    def is_unfinished(self) -> bool:
        return self.piece is None or self.piece.state in (State.WET, State.DRY)

    @property
    def initial(self) -> dict[str, Any]:
        shown = [photo for photo in self.photos if photo.pours.all()]
        common = {
            "subject": self.key,
            "take": not self.is_offered,
            "photo": str(shown[-1].pk) if shown else "",
        }
        if self.piece is None:
            return {**common, "title": self.title}
        piece = self.piece
        return {
            **common,
            "title": piece.title,
            "series_number": piece.series_number,
            "price": piece.price,
            "seen": self.seen,
        }


class PieceAmongForm(EditForm):
    """One of several pieces."""

    subject = forms.CharField(widget=forms.HiddenInput, max_length=40)
    take = forms.BooleanField(label=gettext_lazy("Take this one"), required=False)
    title = forms.CharField(label=gettext_lazy("Title"), max_length=160, required=False)
    series_number = forms.IntegerField(
        label=gettext_lazy("Number in the series"), min_value=1, max_value=HIGHEST_NUMBER, required=False
    )
    price = MoneyField(label=gettext_lazy("Price ({currency})"), required=False, example=45_000_000)
    photo = forms.ChoiceField(label=gettext_lazy("Photo"), required=False, widget=forms.RadioSelect)
    upload = forms.FileField(
        label=gettext_lazy("New photo"), required=False, widget=forms.FileInput(attrs={"accept": ACCEPTED})
    )

    def __init__(self, *args: Any, candidates: dict[str, Candidate], sees_money: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if not sees_money:
            del self.fields["price"]
        self.candidate = candidates.get(str(self["subject"].value() or ""))
        photos = self.candidate.photos if self.candidate else ()
        choice = cast("forms.ChoiceField", self.fields["photo"])
        choice.choices = [("", _("No photo")), *((str(photo.pk), str(photo)) for photo in photos)]
        if not photos:
            del self.fields["photo"]
        if self.candidate and self.candidate.piece and self.candidate.piece.photo:
            del self.fields["upload"]  # another one takes its place on the piece's own page, where it is seen

    @property
    def photo_choices(self) -> list[tuple[Any, SessionPhoto | None]]:
        """Each tick of the photo, with the photo that it stands for."""
        if "photo" not in self.fields or self.candidate is None:
            return []
        return list(zip(self["photo"], [None, *self.candidate.photos], strict=True))

    def clean_upload(self) -> "UploadedFile[Any] | None":
        """Looked at here, so that a file that is no photo is refused beside its own piece."""
        upload: UploadedFile[Any] | None = self.cleaned_data["upload"]
        if upload is not None:
            try:
                read_picture(upload)
            except PhotoError as problem:
                raise forms.ValidationError(str(problem)) from None
            upload.seek(0)
        return upload

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        if cleaned.get("take"):
            if self.candidate is None:
                self.add_error(None, _("This has changed since you opened the page. Reload the page."))
            elif not cleaned.get("title") and "title" not in self.errors:
                self.add_error("title", _("Give the piece a title of at most 160 characters."))
        return cleaned

    @property
    def among(self) -> PieceAmong | None:
        """What a valid row says; nothing where it is not ticked."""
        sent, candidate = self.cleaned_data, self.candidate
        if not sent["take"] or candidate is None:
            return None
        photo = next((each for each in candidate.photos if str(each.pk) == sent.get("photo")), None)
        return PieceAmong(
            title=sent["title"].strip(),
            pour=None if candidate.piece else candidate.pours[0],
            piece=candidate.piece,
            series_number=sent["series_number"],
            price=sent.get("price"),
            photo=photo,
            upload=sent.get("upload"),
            seen=sent["seen"] if candidate.piece else None,
        )


AmongRows = rows_of(PieceAmongForm, at_most=MOST_PIECES, can_delete=False)


def among_rows(
    data: QueryDict | None,
    files: "MultiValueDict[str, UploadedFile[Any]] | None" = None,
    *,
    studio: Studio,
    candidates: Sequence[Candidate],
    sees_money: bool,
) -> Rows:
    """A row for each candidate."""
    return AmongRows(
        data,
        files,
        prefix="pieces",
        initial=[each.initial for each in candidates],
        form_kwargs={
            "studio": studio,
            "candidates": {each.key: each for each in candidates},
            "sees_money": sees_money,
            "empty_permitted": False,
            "use_required_attribute": False,
        },
    )


class TogetherForm(WorkForm):
    """What is done with all the pieces that are ticked."""

    note = None  # type: ignore[assignment]  # how Django leaves a field of the base out
    series = forms.CharField(
        label=gettext_lazy("Series"),
        max_length=80,
        required=False,
        help_text=gettext_lazy("Works that belong together, such as: Harbour wall."),
    )
    up_to = forms.ChoiceField(
        label=gettext_lazy("How far they are"),
        required=False,
        widget=forms.RadioSelect,
        choices=[
            ("", gettext_lazy("As they are")),
            (State.DRY.value, gettext_lazy("Dry")),
            (State.FINISHED.value, pgettext_lazy("piece", "Finished")),
            (State.FOR_SALE.value, gettext_lazy("Finished and for sale")),
        ],
    )
    minutes = forms.IntegerField(
        label=gettext_lazy("Minutes of finishing, all together"),
        min_value=0,
        max_value=MOST_MINUTES,
        required=False,
    )
    is_packed = forms.BooleanField(label=gettext_lazy("They are packed, with this"), required=False)
    packing_minutes = forms.IntegerField(
        label=gettext_lazy("Minutes of packing, all together"),
        min_value=0,
        max_value=MOST_MINUTES,
        required=False,
    )

    def facts(self, *, among: Rows, used: Rows, packed: Rows) -> TogetherFacts:
        """What valid forms say, as the action takes it."""
        sent = self.cleaned_data
        rows = [form.among for form in among.forms]
        is_finished = sent["up_to"] in FINISHES
        return TogetherFacts(
            pieces=[row for row in rows if row is not None],
            series=sent["series"].strip(),
            up_to=State(sent["up_to"]) if sent["up_to"] else None,
            finishing=WorkFacts(ingredients(used), minutes=sent["minutes"] or 0) if is_finished else NO_WORK,
            packing=WorkFacts(ingredients(packed), minutes=sent["packing_minutes"] or 0)
            if sent["is_packed"]
            else NO_WORK,
        )

    def refuse(self, problem: MeniscusError, **formsets: Rows) -> None:
        """A conflict lands on the row of its piece."""
        rows = formsets["among"].forms if isinstance(problem, EditConflict) else []
        for row in rows:
            if isinstance(problem, EditConflict) and row.candidate and row.candidate.piece == problem.row:
                row.refuse(problem)
                return
        super().refuse(problem, **formsets)
