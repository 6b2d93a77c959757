"""What every address of the API shares: what it takes is declared, anything else is refused by name."""

import re
from collections.abc import Sequence
from typing import Any

from drf_spectacular.extensions import OpenApiAuthenticationExtension
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter
from rest_framework import serializers
from rest_framework.exceptions import PermissionDenied, ValidationError
from rest_framework.generics import GenericAPIView
from rest_framework.request import Request
from rest_framework.response import Response

from studio.accounts.models import User
from studio.api.fields import RequestSerializer, ResponseSerializer, WholeNumber
from studio.errors import MeniscusError
from studio.preferences.context import current_studio
from studio.preferences.formatting import Formatter
from studio.translation import _
from studio.values.numbers import read_small_whole

PAGE = "page"
LONGEST_KEY = 80
# RFC 8941 strings or bare words, as the IETF draft on the Idempotency-Key header has them.
_KEY = re.compile(r'"([!#-~][ !#-~]*)"|([!#-~]+)', re.ASCII)
KEY_HEADER = OpenApiParameter(
    "Idempotency-Key",
    OpenApiTypes.STR,
    OpenApiParameter.HEADER,
    required=True,
    description="Chosen by the sender, up to 80 characters, new for every request. Sent again with the same "
    "contents it saves nothing twice and returns the first result; with other contents it is refused (422).",
)

ENTITY_TAG = OpenApiParameter(
    "ETag",
    OpenApiTypes.STR,
    OpenApiParameter.HEADER,
    response=[200],
    description="Version of this resource. Send it in `If-Match` to change only this version.",
)
IF_MATCH = OpenApiParameter(
    "If-Match",
    OpenApiTypes.STR,
    OpenApiParameter.HEADER,
    required=False,
    description="The `ETag` that was read. If someone has changed it since, nothing is saved: 409, with what was "
    "changed, by whom and when. Without this header the change is saved in any case.",
)
_TAG = re.compile(r'"([0-9]+)"', re.ASCII)


def tag(seen: int) -> str:
    """An entity tag out of the number of the last change."""
    return f'"{seen}"'


class QuerySerializer(RequestSerializer):
    """The parameters of an address. Those about money are refused to whoever may not see it."""

    money_orders: frozenset[str] = frozenset()


class Problem(serializers.Serializer[Any]):
    """A refusal: `detail` is for people; `errors` names what could not be read, `shortfalls` what the shelf lacks."""

    detail = serializers.CharField()
    kind = serializers.CharField(required=False)
    errors = serializers.DictField(required=False)  # type: ignore[assignment]
    shortfalls = serializers.ListField(child=serializers.DictField(), required=False)


REFUSED = {400: Problem, 401: Problem, 403: Problem}
REFUSED_TO_WRITE = {**REFUSED, 409: Problem, 422: Problem}


class TokenScheme(OpenApiAuthenticationExtension):  # type: ignore[no-untyped-call]
    """How the schema names the tokens of studio.token_login."""

    target_class = "studio.accounts.authentication.TokenLogin"
    name = "token"

    def get_security_definition(self, auto_schema: Any) -> dict[str, str]:
        return {"type": "http", "scheme": "bearer"}


class ApiView(GenericAPIView[Any]):
    """One address. `query` declares what its GET takes, `conflicts` which refusals clash with what is recorded."""

    metadata_class = None  # what it takes stands in the schema
    query: type[QuerySerializer] | None = None
    is_list = False
    conflicts: tuple[type[MeniscusError], ...] = ()
    asked: dict[str, Any]

    def initial(self, request: Request, *args: Any, **kwargs: Any) -> None:
        super().initial(request, *args, **kwargs)
        self.asked = self._read_query(request)

    def particulars(self, error: MeniscusError) -> dict[str, Any]:
        """What an answer says of a refusal beyond its text."""
        return {}

    @property
    def person(self) -> User:
        """Who asks; the permissions let nobody else as far as this."""
        if not isinstance(self.request.user, User):
            raise PermissionDenied
        return self.request.user

    @property
    def formatter(self) -> Formatter:
        return Formatter.of(current_studio(self.request._request))

    @property
    def key(self) -> str:
        """The request's idempotency key."""
        said = self.request.META.get("HTTP_IDEMPOTENCY_KEY", "").strip()
        match = _KEY.fullmatch(said)
        key = (match[1] or match[2]) if match else ""
        if not 0 < len(key) <= LONGEST_KEY:
            raise ValidationError(
                {
                    "Idempotency-Key": [
                        _("Send this header with a key of your own, up to 80 plain characters.")
                    ]
                }
            )
        return key

    @property
    def seen(self) -> int | None:
        """The last change that the sender has seen, by the If-Match header; None when it does not matter to them."""
        said = self.request.META.get("HTTP_IF_MATCH", "").strip()
        if said in ("", "*"):
            return None
        match = _TAG.fullmatch(said)
        number = read_small_whole(match[1]) if match else None
        if number is None:
            raise ValidationError(
                {"If-Match": [_("Send the ETag exactly as you received it, including its quotes.")]}
            )
        return number

    def said(self, shape: type[RequestSerializer]) -> Any:
        """The request's body, read; a problem is a 400 that names the field."""
        form = shape(data=self.request.data, context=self.context)
        form.is_valid(raise_exception=True)
        return form.validated_data

    def one(self, shape: type[ResponseSerializer], thing: Any, *, status: int = 200) -> Response:
        """Answer with one thing."""
        return Response(shape(thing, context=self.context).data, status=status)

    def paged(self, shape: type[ResponseSerializer], things: Any) -> Response:
        """Answer with one page of things."""
        page: Sequence[Any] = self.paginate_queryset(things) or []
        return self.get_paginated_response(shape(page, many=True, context=self.context).data)

    @property
    def context(self) -> dict[str, Any]:
        return {
            "sees_money": self.person.sees_money,
            "formatter": self.formatter,
            "view": self,
            "request": self.request,
        }

    def _read_query(self, request: Request) -> dict[str, Any]:
        given = request.query_params
        repeated = sorted(name for name in given if len(given.getlist(name)) > 1)
        if repeated:
            raise ValidationError({name: [_("Give this only once.")] for name in repeated})
        said = given.dict()
        is_reading = request.method in ("GET", "HEAD")
        if self.is_list and is_reading:
            self._read_page(said.pop(PAGE, "1"))
        shape = (self.query if is_reading else None) or QuerySerializer
        form = shape(data=said, context={"formatter": self.formatter})
        form.is_valid(raise_exception=True)
        if str(form.validated_data.get("order", "")).removeprefix("-") in shape.money_orders:
            self._refuse_money()
        return dict(form.validated_data)

    def _read_page(self, said: str) -> None:
        try:
            WholeNumber(least=1).run_validation(said)
        except ValidationError as problem:
            raise ValidationError({PAGE: problem.detail}) from None

    def _refuse_money(self) -> None:
        if not self.person.sees_money:
            raise PermissionDenied(_("Your role does not include costs and prices."))
