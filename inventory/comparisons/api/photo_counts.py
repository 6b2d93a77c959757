"""Counts on photos for programs: begun with four corners, marked, finished as a score, read."""

from decimal import Decimal
from typing import Any

from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from inventory.comparisons.actions.counting import (
    LONGEST_KEY,
    MOST_MARKS,
    CountPlace,
    MarkFacts,
    add_marks,
    begin_count,
    finish_count,
    remove_mark,
)
from inventory.comparisons.calculations.counting import Mark
from inventory.comparisons.filters import PhotoCountFilter
from inventory.comparisons.models import ComparedPour, Criterion, PhotoCount
from inventory.comparisons.queries.counting import outcome_of
from inventory.comparisons.queries.photos import photos_of
from inventory.sessions.models import SessionPhoto, Stage
from studio.accounts.models import User
from studio.api.fields import RowField
from studio.api.serializers import RequestSerializer, ResponseSerializer
from studio.api.viewsets import ReadViewSet, row_action
from studio.errors import InputError
from studio.translation import _

FARTHEST = 10**9


class PointField(serializers.ListField):
    """Two whole numbers: from the left, and from the top."""

    child = serializers.IntegerField(min_value=0, max_value=FARTHEST)

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(min_length=2, max_length=2, **kwargs)

    def to_internal_value(self, data: Any) -> Any:
        # How many there are is judged after this.
        return tuple(super().to_internal_value(data))


class PhotoCountRequest(RequestSerializer):
    """A count to begin. The corners are pixels of the photo, as it is kept; of a round piece the ends of two diameters.

    Without a photo it is counted on the latest one that shows the piece alone.
    """

    pour = RowField(
        ComparedPour.objects.select_related("comparison", "pour__surface"), help_text="In the comparison."
    )
    criterion = RowField(Criterion.objects.all())
    stage = serializers.ChoiceField(choices=Stage.choices)
    judge = RowField(User.objects.filter(is_active=True))
    photo = RowField(SessionPhoto.objects.prefetch_related("pours"), required=False)
    corners = serializers.ListField(child=PointField(), min_length=4, max_length=4)


class MarkRequest(RequestSerializer):
    """A point; or with a second one a line across. Thousandths of a centimetre from the top left of the piece."""

    key = serializers.CharField(max_length=LONGEST_KEY)
    at = PointField()
    to = PointField(required=False)

    def validate(self, attrs: dict[str, Any]) -> MarkFacts:
        return MarkFacts(attrs["key"], Mark(*attrs["at"], *attrs.get("to", ())))


class MarksRequest(RequestSerializer):
    """Marks to keep, and the keys of those to take back."""

    marks = serializers.ListSerializer[Any](
        child=MarkRequest(), required=False, default=list, max_length=MOST_MARKS
    )
    remove = serializers.ListField(
        child=serializers.CharField(max_length=LONGEST_KEY),
        required=False,
        default=list,
        max_length=MOST_MARKS,
    )


class PhotoCountResponse(ResponseSerializer):
    """A count: its windows, how many marks each holds, and what that comes to."""

    id = serializers.IntegerField()
    pour = serializers.IntegerField(help_text="In the comparison.")
    criterion = serializers.IntegerField()
    stage = serializers.ChoiceField(choices=Stage.choices)
    judge = serializers.IntegerField()
    height = serializers.IntegerField(help_text="Thousandths of a centimetre, as all lengths here.")
    width = serializers.IntegerField()
    side = serializers.IntegerField(help_text="Of a window.")
    squares = serializers.IntegerField(help_text="Among how many squares the four were drawn.")
    windows = serializers.ListField(child=PointField(), help_text="Left and top of each.")
    counted = serializers.ListField(child=serializers.IntegerField(), help_text="Marks in each window.")
    per_100_cm2 = serializers.DecimalField(max_digits=15, decimal_places=3)
    standard_error = serializers.DecimalField(max_digits=15, decimal_places=3)
    median_mm = serializers.DecimalField(max_digits=15, decimal_places=3, allow_null=True)
    quartiles_mm = serializers.ListField(
        child=serializers.DecimalField(max_digits=15, decimal_places=3), allow_null=True
    )
    finished_at = serializers.DateTimeField(allow_null=True)


class PhotoCountViewSet(ReadViewSet):
    """Counts on photos, newest first."""

    queryset = (
        PhotoCount.objects.select_related("criterion", "pour__comparison", "judge")
        .prefetch_related("marks")
        .order_by("-pk")
    )
    serializer_class = PhotoCountResponse
    request_serializer_class = PhotoCountRequest
    filterset_class = PhotoCountFilter

    def create(self, request: Request) -> Response:
        """Begin a count: the answer says where its windows lie. Begun again, its marks so far go along."""
        body = self.read_body()
        compared = body["pour"]
        photo = body.get("photo") or next(reversed(photos_of(compared, body["stage"])), None)
        if photo is None:
            raise InputError(_("There is no photo of this piece yet."), field="photo")
        place = CountPlace(compared, body["criterion"], body["stage"], body["judge"])
        count = begin_count(place=place, photo=photo, corners=body["corners"], submission=self.submission())
        return self.answer(self.get_queryset().get(pk=count.pk), status=201)

    @row_action(request_serializer_class=MarksRequest, has_key=False)
    def marks(self, request: Request, pk: int) -> Response:
        """Keep marks and take some back. A mark whose key is there already stays as it is."""
        count, body = self.get_object(), self.read_body()
        add_marks(count=count, marks=body["marks"], submission=self.submission())
        for key in body["remove"]:
            remove_mark(count=count, key=key, submission=self.submission())
        return self.answer(self.get_object())

    @row_action(request_serializer_class=RequestSerializer, has_key=False)
    def finish(self, request: Request, pk: int) -> Response:
        """Make a score of it. Done twice it is the same score."""
        self.read_body()
        finish_count(count=self.get_object(), submission=self.submission())
        return self.answer(self.get_object())

    def paginate_queryset(self, queryset: Any) -> Any:
        page = super().paginate_queryset(queryset)
        return None if page is None else [self.details_of(row) for row in page]

    def details_of(self, row: PhotoCount) -> dict[str, Any]:
        outcome = outcome_of(row)
        sizes = outcome.sizes
        return {
            **{name: getattr(row, name) for name in ("height", "width", "side", "squares", "stage")},
            "id": row.pk,
            "pour": row.pour_id,
            "criterion": row.criterion_id,
            "judge": row.judge_id,
            "windows": row.places,
            "counted": outcome.by_window,
            "per_100_cm2": Decimal(outcome.density.per_100) / 1000,
            "standard_error": Decimal(outcome.density.error) / 1000,
            "median_mm": Decimal(sizes.median) / 1000 if sizes else None,
            "quartiles_mm": [Decimal(sizes.lower) / 1000, Decimal(sizes.upper) / 1000] if sizes else None,
            "finished_at": row.finished_at,
        }
