"""Problem documents (RFC 9457) for what no endpoint answers: refused before it is reached, or failed within."""

import sys
from http import HTTPStatus
from typing import Any

from django.http import HttpRequest, HttpResponse, JsonResponse
from django.views import defaults

from studio.operations import outages
from studio.translation import _

MEDIA_TYPE = "application/problem+json"
UNTYPED = "about:blank"  # there is nothing to say beyond the status


def is_for_programs(request: HttpRequest) -> bool:
    """Whether an address belongs to the API."""
    return request.path.startswith("/api/")


def plain_document(status: int, detail: str) -> dict[str, Any]:
    return {"type": UNTYPED, "title": HTTPStatus(status).phrase, "status": status, "detail": detail}


def plain_problem(status: int, detail: str) -> HttpResponse:
    return JsonResponse(plain_document(status, detail), status=status, content_type=MEDIA_TYPE)


def not_found(request: HttpRequest, exception: Exception) -> HttpResponse:
    """What an address that does not exist answers: a page, or to programs a problem document."""
    if is_for_programs(request):
        return plain_problem(404, "There is nothing at this address.")
    return defaults.page_not_found(request, exception)


def failed(request: HttpRequest) -> HttpResponse:
    """What a request answers that ended in an error nobody caught: a page, or to programs a problem document."""
    if not is_for_programs(request):
        return outages.page_for(request)
    problem = sys.exc_info()[1]
    outage = outages.reason(problem)
    if outage is None:
        return plain_problem(
            500, _("Something went wrong. What you sent was saved completely or not at all.")
        )
    outages.note(problem)
    detail = outages.in_words(outage, sent=request.method == "POST")
    return outages.not_kept(plain_problem(outage.status, detail))
