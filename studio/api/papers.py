"""Papers for programs: whatever a page prints, by the same view, for the same people."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from django.contrib.messages import get_messages
from django.http import Http404, HttpResponse, QueryDict
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.exceptions import ValidationError
from rest_framework.renderers import BaseRenderer, JSONRenderer
from rest_framework.request import Request

from studio.accounts.permissions import IsSignedIn
from studio.api.serializers import ResponseSerializer, refuse_unknown
from studio.api.viewsets import ListViewSet
from studio.preferences.models import Studio
from studio.translation import _

USUAL = ("paper", "grey")


@dataclass(frozen=True, slots=True)
class Printable:
    """A paper: its name, what its number is of (nothing for one without a number), its page's view and options."""

    name: str
    of: str
    view: Callable[..., Any]
    options: tuple[str, ...] = USUAL
    fixed: tuple[tuple[str, str], ...] = ()  # options that are always sent
    many: tuple[str, ...] = ()  # options that may be given more than once


_printables: dict[str, Printable] = {}


def register(*printables: Printable) -> None:
    _printables.update({each.name: each for each in printables})


class PdfRenderer(BaseRenderer):
    """Only says that a PDF may be asked for: the view has drawn it already."""

    media_type = "application/pdf"
    format = "pdf"


class PrintableResponse(ResponseSerializer):
    """A paper that can be printed."""

    name = serializers.CharField()
    number_of = serializers.CharField(source="of", help_text="What its number is of; empty without a number.")
    options = serializers.ListField(child=serializers.CharField(), help_text="Names in its address.")


class PaperViewSet(ListViewSet):
    """Papers as PDF, by name; those of one thing by its number as well. Who may see the page may have its paper."""

    permission_classes = [IsSignedIn]
    queryset = Studio.objects.all()
    serializer_class = PrintableResponse
    pagination_class = None
    lookup_url_kwarg = "name"
    lookup_value_converter = "slug"
    pdf_actions = ("retrieve", "numbered")
    renderer_classes = [JSONRenderer, PdfRenderer]

    def initial(self, request: Request, *args: Any, **kwargs: Any) -> None:
        if printable := _printables.get(kwargs.get("name", "")):
            self.query_names = {self.action or "": printable.options}  # type: ignore[misc]
            self.many_names = printable.many
        super().initial(request, *args, **kwargs)

    def filter_queryset(self, queryset: Any) -> Any:
        return list(_printables.values())

    def retrieve(self, request: Request, name: str) -> HttpResponse:
        """A paper without a number, such as the price list."""
        return self._printed(name, None)

    @extend_schema(
        operation_id="papers_of_one_thing", parameters=[OpenApiParameter("of", int, OpenApiParameter.PATH)]
    )
    @action(detail=True, methods=["get"], url_path="<int:of>")
    def numbered(self, request: Request, name: str, of: int) -> HttpResponse:
        """The paper of one thing, such as the receipt of a sale."""
        return self._printed(name, of)

    def _printed(self, name: str, of: int | None) -> HttpResponse:
        printable = _printables.get(name)
        if printable is None or bool(printable.of) != (of is not None):
            raise Http404
        refuse_unknown(self.request.query_params, printable.options)
        asked = self.request._request
        query = QueryDict(mutable=True)
        query.update(dict(printable.fixed))
        for option, values in asked.GET.lists():
            query.setlist(option, values)
        asked.GET = query  # type: ignore[assignment]
        answer: HttpResponse = printable.view(asked, *([] if of is None else [of]))
        if answer.headers.get("Content-Type") == "application/pdf":
            return answer
        problems = [str(message) for message in get_messages(asked)]
        raise ValidationError({"paper": problems or [_("This cannot be printed with these options.")]})


VIEWSETS = {"papers": PaperViewSet}
