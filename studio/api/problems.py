"""Every refusal as a problem document (RFC 9457): of what kind it is, what to show a person, what to put right."""

import re
from collections.abc import Mapping
from typing import Any

from django.db import IntegrityError
from rest_framework import serializers
from rest_framework.exceptions import ValidationError
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.settings import api_settings
from rest_framework.views import exception_handler

from studio.api.fields import quantity_in_full
from studio.api.plain_problems import MEDIA_TYPE, UNTYPED, plain_document
from studio.api.serializers import errors_of
from studio.auditing.edit_conflicts import EditConflict
from studio.errors import InputError, MeniscusError
from studio.operations import outages
from studio.preferences.context import current_studio
from studio.preferences.formatting import Formatter
from studio.translation import _
from studio.values.quantities import Quantity

TYPES = "urn:meniscus:problem:"


class Problem(serializers.Serializer[Any]):
    """A refusal. `detail` is for people; `errors` has each field's problems, `shortfalls` what is not in stock.

    `questions` has what to confirm: send the same again with their tokens in the field `confirmed`.
    """

    type = serializers.CharField(help_text=f"“{UNTYPED}”, or for example “{TYPES}not-enough”.")
    title = serializers.CharField()
    status = serializers.IntegerField()
    detail = serializers.CharField()
    errors = serializers.DictField(required=False)  # type: ignore[assignment]
    shortfalls = serializers.ListField(child=serializers.DictField(), required=False)
    questions = serializers.ListField(child=serializers.DictField(), required=False)


def explain(error: Exception, context: dict[str, Any]) -> Response | None:
    """Answer a refusal: 400 for what cannot be read, 409 for a clash with what is recorded, 422 for the rest.

    412 is for a change that was made from an older version (RFC 9110, section 13.1.1).

    None leaves an error that is nobody's refusal to Django, which makes a 500 of it.
    """
    request: Request = context["request"]
    if isinstance(error, InputError):
        return _invalid(errors_of(error))
    if isinstance(error, ValidationError):
        return _invalid(error.detail)
    if isinstance(error, MeniscusError):
        status = 412 if isinstance(error, EditConflict) else 409 if error.is_conflict else 422
        kind = re.sub(r"\B(?=[A-Z])", "-", type(error).__name__).lower()
        extensions = _in_json(error.extensions, Formatter.of(current_studio(request._request)))
        return _problem(status, str(error), kind=kind, extensions=extensions)
    if isinstance(error, IntegrityError):
        clash = _("This conflicts with what is already recorded. Reload and try again.")
        return _problem(409, clash, kind="conflict")
    if (reason := outages.reason(error)) is not None:
        outages.note(error)
        away = _problem(reason.status, outages.in_words(reason, sent=request.method == "POST"))
        away.headers["Retry-After"] = str(outages.TRY_AGAIN_AFTER)
        return away
    answer = exception_handler(error, context)
    if answer is not None:
        answer.data = _document(answer.status_code, str(answer.data["detail"]))
        answer.content_type = MEDIA_TYPE
    return answer


def _problem(
    status: int, detail: str, *, kind: str = "", extensions: Mapping[str, Any] | None = None
) -> Response:
    document = _document(status, detail, kind) | dict(extensions or {})
    return Response(document, status=status, content_type=MEDIA_TYPE)


def _document(status: int, detail: str, kind: str = "") -> dict[str, Any]:
    document = plain_document(status, detail)
    if kind:
        document |= {"type": f"{TYPES}{kind}", "title": kind.replace("-", " ").capitalize()}
    return document


def _invalid(errors: Any) -> Response:
    by_field = errors if isinstance(errors, dict) else {api_settings.NON_FIELD_ERRORS_KEY: errors}
    return _problem(
        400,
        _("Some of the values cannot be accepted."),
        kind="invalid-input",
        extensions={"errors": by_field},
    )


def _in_json(value: Any, formatter: Formatter) -> Any:
    """Plain values for what an error tells a program."""
    if isinstance(value, Quantity):
        return quantity_in_full(value.amount, value.measure, formatter)
    if isinstance(value, Mapping):
        return {name: _in_json(part, formatter) for name, part in value.items()}
    return [_in_json(part, formatter) for part in value] if isinstance(value, list) else value
