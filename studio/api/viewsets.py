"""The base of every endpoint: DRF's own viewsets, with one serializer for the body and another for the answer."""

import re
from collections.abc import Callable, Collection
from datetime import date
from functools import partial
from types import ModuleType
from typing import Any, ClassVar

from django.db.models import Model
from django.urls import URLPattern, URLResolver
from django.utils import timezone
from django.utils.translation import gettext_lazy
from django_filters import CharFilter
from rest_framework import mixins
from rest_framework.decorators import action
from rest_framework.exceptions import APIException, MethodNotAllowed, PermissionDenied, ValidationError
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.routers import SimpleRouter
from rest_framework.viewsets import GenericViewSet

from studio.accounts.models import User
from studio.api.serializers import (
    LONGEST_NAME_REPEATED,
    RequestSerializer,
    ResponseSerializer,
    refuse_unknown,
)
from studio.auditing.queries import last_change_number
from studio.preferences.context import current_studio
from studio.preferences.formatting import Formatter
from studio.submission import Submission
from studio.translation import _
from studio.values.numbers import read_small_whole

LONGEST_KEY = 80
ONLY_ROW = 1  # the number of settings that are one row
FIELDS = "fields"  # the name in an address that asks for a sparse answer
# RFC 8941 strings or bare words, as the IETF draft on the Idempotency-Key header has them.
_KEY = re.compile(r'"([!#-~][ !#-~]*)"|([!#-~]+)', re.ASCII)
_TAG = re.compile(r'"([0-9]+)(?:-gzip)?"', re.ASCII)  # the tag of a compressed answer says so

# A POST about the row of its address, answered with what it is by then.
row_action = partial(action, detail=True, methods=["post"], post_status=200)


class StudioViewSet(GenericViewSet[Any]):
    """Shows rows by `serializer_class` in a list, by `detail_serializer_class` alone; reads `request_serializer_class`.

    Names in an address are refused unless the list's filter set, or `query_names` of the action, knows them. With
    `has_key` a POST needs an idempotency key.
    """

    detail_serializer_class: type[ResponseSerializer] | None = None
    row_model: type[Model] | None = None  # whose changes tag an answer, where they are not the rows shown
    request_serializer_class: type[RequestSerializer] = RequestSerializer
    filterset_class: Any = None
    query_names: ClassVar[dict[str, tuple[str, ...]]] = {}
    many_names: tuple[str, ...] = ()  # which may be given more than once
    has_key = False
    pdf_actions: ClassVar[tuple[str, ...]] = ()  # which answer with a PDF
    post_status = 201
    answers_many = False  # a list without pages
    is_one_row = False  # what its list answers is one thing
    get_refusals: ClassVar[tuple[int, ...]] = ()  # statuses that a GET may answer besides the usual ones
    lookup_value_converter = "int"
    confirmed: frozenset[str] = frozenset()  # of the body that was read

    def initial(self, request: Request, *args: Any, **kwargs: Any) -> None:
        self.earlier: list[Any] = []  # what submissions under this request's key made before
        if request.user.is_authenticated and (request.method or "").lower() not in self.action_map:
            raise MethodNotAllowed(str(request.method))  # whoever asks, and whatever the address says besides
        super().initial(request, *args, **kwargs)
        known = list(self.query_names.get(self.action or "", ()))
        if self.action == "list":
            known += ["page", *(self.filterset_class.base_filters if self.filterset_class else ())]
        if request.method == "GET" and self.action not in self.pdf_actions:
            known.append(FIELDS)
        refuse_unknown(request.query_params, known)
        blank = [name for name in self._never_blank() if request.query_params.get(name) == ""]
        if blank:
            raise ValidationError({name: [_("Give a value, or leave this out.")] for name in blank})
        twice = [
            name
            for name, values in request.query_params.lists()
            if len(values) > 1 and name not in self.many_names
        ]
        if twice:
            raise ValidationError({name: [_("Give this only once.")] for name in twice})
        if FIELDS in request.query_params:
            self._refuse_unknown_fields(request)

    def _never_blank(self) -> list[str]:
        """Names in an address that mean nothing without a value: everything but words to look for."""
        filters = self.filterset_class.base_filters if self.filterset_class else {}
        return ["page", *(name for name, each in filters.items() if not isinstance(each, CharFilter))]

    @property
    def only_fields(self) -> frozenset[str] | None:
        """The names that a sparse answer is asked for; None for all."""
        asked = self.request.query_params.get(FIELDS)
        return None if asked is None else frozenset(asked.split(","))

    def _refuse_unknown_fields(self, request: Request) -> None:
        names, known = self.only_fields or (), self.get_serializer_class()().fields
        unknown = sorted(name[:LONGEST_NAME_REPEATED] or "–" for name in names if name not in known)
        if unknown:
            message = _(
                "Unknown name: {unknown}. Choose from: {names}.",
                unknown=", ".join(unknown),
                names=", ".join(known),
            )
            raise ValidationError({FIELDS: [message]})

    @property
    def user(self) -> User:
        """Who asks; the permissions let nobody else as far as this."""
        if not isinstance(self.request.user, User):
            raise PermissionDenied
        return self.request.user

    def get_serializer_class(self) -> Any:
        row = self.serializer_class
        return row if self.action == "list" else self.detail_serializer_class or row

    def get_serializer(self, *args: Any, **kwargs: Any) -> Any:
        serializer: Any = super().get_serializer(*args, **kwargs)
        getattr(serializer, "child", serializer).only = self.only_fields
        return serializer

    def get_serializer_context(self) -> dict[str, Any]:
        formatter = Formatter.of(current_studio(self.request._request))
        return {
            **super().get_serializer_context(),
            "formatter": formatter,
            "sees_money": self.user.sees_money,
        }

    def filter_queryset(self, queryset: Any) -> Any:
        return super().filter_queryset(queryset) if self.action == "list" else queryset

    def asked(self) -> Any:
        """The filter set of this request, for lists that are worked out. Raises ValidationError as a list does."""
        asked = self.filterset_class(self.request.query_params, self.get_queryset(), request=self.request)
        if not asked.is_valid():
            raise ValidationError(asked.errors)
        return asked

    def details_of(self, row: Any) -> Any:
        """What the detail serializer shows of a row; the row itself where that is enough."""
        return row

    def answer(self, row: Any, *, status: int = 200) -> Response:
        """Answer with the whole of one thing."""
        return Response(self.get_serializer(self.details_of(row)).data, status=status)

    def get_request_class(self) -> type[RequestSerializer]:
        """What this action reads."""
        return self.request_serializer_class

    def read_body(self) -> Any:
        """What was sent, read. Raises ValidationError naming each field that could not be."""
        body = self.get_request_class()(data=self.request.data, context=self.get_serializer_context())
        body.is_valid(raise_exception=True)
        self.confirmed = body.confirmations
        return body.validated_data

    def submission(self, *, on: date | None = None) -> Submission:
        """By whoever asks, now, about `on` or else today, under the key of the request where it needs one."""
        key = idempotency_key(self.request) if self.has_key else ""
        return Submission(
            by=self.user,
            at=timezone.now(),
            on=on or timezone.localdate(),
            key=key,
            confirmed=self.confirmed,
            earlier=self.earlier,
        )

    def tagged(self, content: Callable[[], Any] | None = None, *, fields: Collection[str] = ()) -> Response:
        """The row of the address, or `content` about it, under the tag of its last change; of `fields`, where named.

        The tag is read before what it stands for, so that a change in between is noticed and never hidden.
        """
        row = int(self.kwargs.get(self.lookup_field, ONLY_ROW))
        tag = last_change_number(self.row_model or self.get_queryset().model, row, fields=fields)
        answer = Response(self.get_serializer(content()).data) if content else self.answer(self.get_object())
        answer.headers["ETag"] = f'"{tag}"'
        return answer

    def deleted(self) -> Response:
        """Answer that the row is gone."""
        return Response(self.get_serializer({"deleted": True}).data)

    @property
    def made_status(self) -> int:
        """Once the action has run: 200 for a key that was sent before, or else what this address answers."""
        return 200 if self.earlier else self.post_status

    def post_once(self, act: Callable[[Any], Model]) -> Response:
        """Act on the body, and answer with the row that was made: 201, or 200 when the key was sent before."""
        idempotency_key(self.request)
        made = act(self.read_body())
        return self.answer(self.get_queryset().get(pk=made.pk), status=self.made_status)


class DetailViewSet(StudioViewSet):
    """One row at a time."""

    def retrieve(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        return self.answer(self.get_object())


class ReadViewSet(mixins.ListModelMixin, DetailViewSet):
    """A list, and each of its rows."""


class ListViewSet(mixins.ListModelMixin, StudioViewSet):
    """A list only."""


def idempotency_key(request: Request) -> str:
    """The request's idempotency key. Raises ValidationError when there is none that can be kept."""
    match = _KEY.fullmatch(request.META.get("HTTP_IDEMPOTENCY_KEY", "").strip())
    key = (match[1] or match[2]) if match else ""
    if not 0 < len(key) <= LONGEST_KEY:
        message = _("Send this header with a key of your own, up to 80 plain characters.")
        raise ValidationError({"Idempotency-Key": [message]})
    return key


class PreconditionRequired(APIException):
    """Raised when a change does not say which version it was made from (RFC 6585, section 3)."""

    status_code = 428
    default_detail = gettext_lazy(
        "Send the ETag that you received as the header If-Match; or * to set it whatever the current value is."
    )


def change_seen(request: Request) -> int | None:
    """The last change that the sender has seen, by the If-Match header; None for *, where it does not matter to them.

    Raises PreconditionRequired without the header, ValidationError for what is no entity tag of ours.
    """
    header = request.META.get("HTTP_IF_MATCH", "").strip()
    if not header:
        raise PreconditionRequired
    if header == "*":
        return None
    match = _TAG.fullmatch(header)
    number = read_small_whole(match[1]) if match else None
    if number is None:
        raise ValidationError(
            {"If-Match": [_("Send the ETag exactly as you received it, including its quotes.")]}
        )
    return number


def routes(*rooms: ModuleType) -> list[URLPattern | URLResolver]:
    """The addresses of what each room lists in its VIEWSETS, by the first part of the address."""
    router = SimpleRouter(use_regex_path=False)
    for room in rooms:
        for prefix, viewset in room.VIEWSETS.items():
            router.register(prefix, viewset, basename=f"api-{prefix}")
    return router.urls
