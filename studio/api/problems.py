"""Errors of the API, said in plain words with the right status."""

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from django.db import IntegrityError
from rest_framework.exceptions import ValidationError
from rest_framework.response import Response
from rest_framework.settings import api_settings
from rest_framework.views import exception_handler

from studio.errors import InputError, MeniscusError
from studio.operations import outages as out_of_reach
from studio.translation import _


@contextmanager
def refused_as_invalid() -> Iterator[None]:
    """Turn what facts refuse into a serializer's errors, each under its field."""
    try:
        yield
    except InputError as refusal:
        raise ValidationError(errors_of(refusal)) from None


def errors_of(refusal: InputError) -> dict[str, Any]:
    """A refusal by field, nested as a serializer's own errors are: a list of rows holds one dict a row."""
    errors: dict[str, Any] = {}
    for problem in refusal.problems:
        place = errors
        if problem.line is not None:
            rows = errors.setdefault(problem.rows, [])
            rows.extend({} for _row in range(problem.line - len(rows)))
            place = rows[problem.line - 1]
        place.setdefault(problem.field or api_settings.NON_FIELD_ERRORS_KEY, []).append(str(problem))
    return errors


def explain(error: Exception, context: dict[str, Any]) -> Response | None:
    """Turn the project's own errors into 400, 409 and 422 answers; everything else as DRF does.

    Every answer has a `detail` to show. The view says which refusals clash with what is recorded (409).
    """
    if isinstance(error, InputError):
        return Response({"detail": str(error), "errors": errors_of(error)}, status=400)
    if isinstance(error, MeniscusError):
        view = context.get("view")
        clashes = isinstance(error, getattr(view, "conflicts", ()))
        more = view.particulars(error) if view is not None and hasattr(view, "particulars") else {}
        said = {"detail": str(error), "kind": type(error).__name__, **more}
        return Response(said, status=409 if clashes else 422)
    if isinstance(error, IntegrityError):
        return Response(
            {"detail": _("This conflicts with what is already recorded. Reload and try again.")}, status=409
        )
    if (found := out_of_reach.reason(error)) is not None:
        out_of_reach.note(error)
        said = {"detail": out_of_reach.in_words(found, sent=context["request"].method == "POST")}
        return Response(said, status=found.status, headers={"Retry-After": str(out_of_reach.TRY_AGAIN_AFTER)})
    answer = exception_handler(error, context)
    if answer is not None and isinstance(error, ValidationError):
        answer.data = {"detail": _("Some of the values cannot be accepted."), "errors": answer.data}
    return answer
