"""Reference data for programs: added, changed from the version that was read, deleted where nothing needs it."""

from collections.abc import Mapping
from copy import copy
from functools import partial
from typing import TYPE_CHECKING, Any

from django.db import models
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.permissions import BasePermission
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.validators import UniqueValidator

from studio.accounts.permissions import IsOwner
from studio.api.fields import MillionthsField, RowField
from studio.api.schema import ENTITY_TAG, IF_MATCH
from studio.api.serializers import RequestSerializer, ResponseSerializer
from studio.api.viewsets import StudioViewSet, change_seen, row_action
from studio.auditing.reference_rows import delete_row, save_row
from studio.values.units import Measure

if TYPE_CHECKING:
    from django.utils.functional import _StrOrPromise


class RowRequest(RequestSerializer, serializers.ModelSerializer[Any]):
    """Columns of a row, named in `Meta.fields`. Of a change, what is left out stays as it is.

    Whole millionths are decimal numbers here. What does not fit together, the model itself says when it is saved.
    """

    serializer_field_mapping = {
        **serializers.ModelSerializer.serializer_field_mapping,
        models.BigIntegerField: MillionthsField,
    }
    serializer_related_field = RowField

    def build_standard_field(self, field_name: str, model_field: Any) -> Any:
        field_class, kwargs = super().build_standard_field(field_name, model_field)
        if field_class is MillionthsField:  # its limits are in millionths: the model keeps them
            for name in ("min_value", "max_value", "validators"):
                kwargs.pop(name, None)
        if "validators" in kwargs:  # what is taken, the model says: a key may have been sent before
            kwargs["validators"] = [
                each for each in kwargs["validators"] if not isinstance(each, UniqueValidator)
            ]
        return field_class, kwargs

    def get_validators(self) -> list[Any]:
        return []

    def read_amounts(self, attrs: dict[str, Any], measure: str | Measure, *names: str, **how: Any) -> None:
        """Read these quantities, in one measure, where they were sent."""
        for name in names:
            if attrs.get(name) is not None:
                attrs[name] = self.amount_in(name, attrs[name], measure, **how)


class DeletedResponse(ResponseSerializer):
    """The row is gone."""

    deleted = serializers.BooleanField()


# An action that deletes the row of its address: nothing to send, and no key, since sent again there is none.
deletion = partial(
    row_action,
    has_key=False,
    request_serializer_class=RequestSerializer,
    detail_serializer_class=DeletedResponse,
)


class SavesRows(StudioViewSet):
    """Saves a row of `row_model` from what was sent of it, by `save_action`."""

    row_model: type[models.Model]
    save_action: Any = staticmethod(save_row)

    def row(self) -> Any:
        """The row of the address; what is answered of it may be something else."""
        return self.get_object()

    def read_row(self, row: models.Model | None = None) -> dict[str, Any]:
        """What was sent of a row. Raises ValidationError naming each field that could not be read."""
        body = self.get_request_class()(
            row, data=self.request.data, partial=row is not None, context=self.get_serializer_context()
        )
        body.is_valid(raise_exception=True)
        return dict(body.validated_data)

    def save(self, row: models.Model, body: Mapping[str, Any], *, seen: int | None = None) -> models.Model:
        """Set what was sent, and save it by the row's action."""
        for name, value in body.items():
            setattr(row, name, value)
        saved: models.Model = self.save_action(row, submission=self.submission(), seen=seen)
        return saved

    def save_change(self) -> None:
        """Save what was sent of the row of the address, unless it changed since the sender read it."""
        row = copy(self.row())
        self.save(row, self.read_row(row), seen=change_seen(self.request))


class KeptRowsViewSet(SavesRows):
    """Adds rows of `row_model` and changes them, for `row_permissions`."""

    row_permissions: tuple[type[BasePermission], ...] = (IsOwner,)

    def get_permissions(self) -> list[Any]:
        if self.action in ("create", "change", "remove"):
            return [permission() for permission in self.row_permissions]
        return list(super().get_permissions())

    def create(self, request: Request) -> Response:
        """Add one. Sent again it is refused where the name is taken by then."""
        made = self.save(self.row_model(), self.read_row())
        return self.answer(self.get_queryset().get(pk=made.pk), status=201)

    @extend_schema(parameters=[ENTITY_TAG])
    def retrieve(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        """One of them, with an `ETag` for whoever changes it."""
        return self.tagged()

    @extend_schema(parameters=[ENTITY_TAG, IF_MATCH])
    @row_action(has_key=False)
    def change(self, request: Request, pk: int) -> Response:
        """Change one: what is left out stays as it is. Sent again it changes nothing."""
        self.save_change()
        return self.tagged()


class RowsViewSet(KeptRowsViewSet):
    """As KeptRowsViewSet; rows that nothing refers to can be deleted too."""

    in_use: "_StrOrPromise" = ""  # why a row cannot be deleted

    @extend_schema(request=None, parameters=[IF_MATCH])
    @deletion(url_path="delete")
    def remove(self, request: Request, pk: int) -> Response:
        """Delete one that nothing refers to. Sent again there is none."""
        row, seen = self.row(), change_seen(request)
        delete_row(row, submission=self.submission(), seen=seen, refusal=str(self.in_use))
        return self.deleted()


class OneRowViewSet(SavesRows):
    """Settings that are one row: read and changed at one address, for owners."""

    permission_classes = [IsOwner]
    pagination_class = None
    is_one_row = True
    post_status = 200

    def row(self) -> Any:
        """The row as it is now, or with its defaults before it was ever saved."""
        raise NotImplementedError

    @extend_schema(parameters=[ENTITY_TAG])
    def list(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        """All of it, with an `ETag` for whoever changes it."""
        return self.tagged(self.row)

    @extend_schema(parameters=[ENTITY_TAG, IF_MATCH])
    def create(self, request: Request) -> Response:
        """Change it: what is left out stays as it is. Sent again it changes nothing."""
        self.save_change()
        return self.tagged(self.row)
