"""Errors of the API, said in plain words with the right status."""

from typing import Any

from django.db import IntegrityError
from rest_framework.response import Response
from rest_framework.views import exception_handler

from studio.errors import InputError, MeniscusError


def explain(error: Exception, context: dict[str, Any]) -> Response | None:
    """Turn the project's own errors into 400, 409 and 422 answers; everything else as DRF does."""
    if isinstance(error, InputError):
        return Response({"detail": str(error), "field": error.field}, status=400)
    if isinstance(error, MeniscusError):
        return Response(
            {"detail": str(error), "kind": type(error).__name__}, status=getattr(error, "status", 422)
        )
    if isinstance(error, IntegrityError):
        return Response(
            {"detail": "This clashes with what is already recorded. Reload and try again."}, status=409
        )
    return exception_handler(error, context)
