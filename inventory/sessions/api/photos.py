"""Photos of sessions for programs: listed, read, added, removed."""

from io import BytesIO
from typing import Any

from django.utils.translation import gettext_lazy
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter, extend_schema, extend_schema_view
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from inventory.sessions.actions.photos import add_photo, remove_photo
from inventory.sessions.models import Pour, Session, SessionPhoto, Stage
from studio.api.fields import RowField, RowNumbersField
from studio.api.files import PhotoUploadField, in_base64
from studio.api.rows import deletion
from studio.api.serializers import RequestSerializer, ResponseSerializer
from studio.api.viewsets import ReadViewSet
from studio.errors import InputError
from studio.values.numbers import read_small_whole

NO_POUR_OF_IT = gettext_lazy("Choose pours of this session.")


class SessionPhotoRequest(RequestSerializer):
    """A photo of a session: of some of its pours, or without any of the whole table."""

    session = RowField(Session.objects.all())
    pours = serializers.ListField(
        child=RowField(Pour.objects.all()), required=False, default=list, max_length=100
    )
    stage = serializers.ChoiceField(choices=Stage.choices, default=Stage.WET)
    content = PhotoUploadField()

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        if any(pour.session_id != attrs["session"].pk for pour in attrs["pours"]):
            raise InputError(str(NO_POUR_OF_IT), field="pours")
        return attrs


class SessionPhotoResponse(ResponseSerializer):
    """A photo of a session."""

    id = serializers.IntegerField(source="pk")
    session = serializers.IntegerField(source="session_id")
    pours = RowNumbersField()
    stage = serializers.ChoiceField(choices=Stage.choices)
    added_at = serializers.DateTimeField()


class SessionPhotoDetailResponse(SessionPhotoResponse):
    """A photo with its picture."""

    content = serializers.SerializerMethodField(help_text="A JPEG in base64; null where its file is missing.")

    def get_content(self, photo: SessionPhoto) -> str | None:
        return in_base64(photo.photo)


@extend_schema_view(
    list=extend_schema(
        parameters=[OpenApiParameter("session", OpenApiTypes.INT, description="Of one session.")]
    )
)
class SessionPhotoViewSet(ReadViewSet):
    """Photos of sessions, the first first."""

    queryset = SessionPhoto.objects.prefetch_related("pours").order_by("pk")
    serializer_class = SessionPhotoResponse
    detail_serializer_class = SessionPhotoDetailResponse
    request_serializer_class = SessionPhotoRequest
    query_names = {"list": ("session",)}

    def filter_queryset(self, queryset: Any) -> Any:
        asked = self.request.query_params.get("session") if self.action == "list" else None
        if asked is None:
            return queryset
        number = read_small_whole(asked)
        if number is None:
            raise InputError(str(gettext_lazy("Enter the number of a session.")), field="session")
        return queryset.filter(session=number)

    def create(self, request: Request) -> Response:
        """Add a photo. The same file sent again is the same photo."""
        body = self.read_body()
        upload = BytesIO(body.pop("content"))
        photo = add_photo(upload=upload, submission=self.submission(), **body)
        return self.answer(self.get_queryset().get(pk=photo.pk), status=201)

    @extend_schema(request=None)
    @deletion(url_path="delete")
    def remove(self, request: Request, pk: int) -> Response:
        """Remove a photo that nothing needs. Sent again there is none."""
        remove_photo(photo=self.get_object(), submission=self.submission())
        return self.deleted()
