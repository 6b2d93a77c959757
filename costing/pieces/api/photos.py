"""The photo of a piece, for programs."""

from io import BytesIO
from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from costing.pieces.actions.photos import adopt_photo, remove_photo, store_photo
from inventory.sessions.models import SessionPhoto
from studio.api.fields import RowField
from studio.api.files import PhotoUploadField, in_base64
from studio.api.schema import ENTITY_TAG, IF_MATCH
from studio.api.serializers import RequestSerializer, ResponseSerializer
from studio.api.viewsets import StudioViewSet, change_seen, row_action
from studio.translation import _


class PiecePhotoRequest(RequestSerializer):
    """A picture, or a photo of the session, which becomes the piece's own as a copy."""

    content = PhotoUploadField(required=False)
    session_photo = RowField(SessionPhoto.objects.all(), required=False)

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        if len(attrs) != 1:
            raise serializers.ValidationError(_("Send either “content” or “session_photo”."))
        return attrs


class PiecePhotoResponse(ResponseSerializer):
    """A piece's photo as a JPEG in base64; null without one."""

    content = serializers.CharField(allow_null=True)


class PiecePhotos(StudioViewSet):
    """Shows, stores, replaces and removes the photo of a piece."""

    @extend_schema(parameters=[ENTITY_TAG])
    @action(
        detail=True,
        methods=["get"],
        request_serializer_class=PiecePhotoRequest,
        detail_serializer_class=PiecePhotoResponse,
        post_status=200,
    )
    def photo(self, request: Request, pk: int) -> Response:
        """The photo, with an `ETag` for whoever replaces it."""
        return self._photo()

    @extend_schema(parameters=[ENTITY_TAG, IF_MATCH])
    @photo.mapping.post
    def store_photo(self, request: Request, pk: int) -> Response:
        """Put up a photo, in place of the one before."""
        piece, body, seen = self.get_object(), self.read_body(), change_seen(request)
        if "content" in body:
            upload = BytesIO(body["content"])
            store_photo(piece=piece, upload=upload, seen=seen, submission=self.submission())
        else:
            photo = body["session_photo"]
            adopt_photo(piece=piece, photo=photo, seen=seen, submission=self.submission())
        return self._photo()

    @extend_schema(request=None, parameters=[ENTITY_TAG, IF_MATCH])
    @row_action(
        url_path="photo/delete",
        request_serializer_class=RequestSerializer,
        detail_serializer_class=PiecePhotoResponse,
    )
    def remove_photo(self, request: Request, pk: int) -> Response:
        """Take the photo away. Sent again it changes nothing."""
        remove_photo(piece=self.get_object(), seen=change_seen(request), submission=self.submission())
        return self._photo()

    def _photo(self) -> Response:
        return self.tagged(lambda: {"content": in_base64(self.get_object().photo)}, fields=["photo"])
