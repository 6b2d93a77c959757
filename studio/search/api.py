"""The search for programs: what the page finds, by the same roles."""

from typing import Any, ClassVar

from django.core.paginator import Paginator
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import serializers
from rest_framework.exceptions import NotFound, ValidationError
from rest_framework.request import Request
from rest_framework.response import Response

from studio.accounts.models import User
from studio.accounts.permissions import IsSignedIn
from studio.api.serializers import ResponseSerializer
from studio.api.viewsets import StudioViewSet
from studio.preferences.context import current_studio
from studio.preferences.formatting import Formatter
from studio.search import queries
from studio.search.filters import found_pages
from studio.search.forms import SearchForm
from studio.search.kinds import kinds_for
from studio.translation import _

PARAMETERS = [
    OpenApiParameter("q", OpenApiTypes.STR, required=True, description="Words, all of which fit; or a code."),
    OpenApiParameter("kind", OpenApiTypes.STR, description="Only this kind, by the name in the answer."),
    OpenApiParameter("page", OpenApiTypes.INT, description="With a kind: which fifty of its hits."),
]


class HitResponse(ResponseSerializer):
    """One thing that was found."""

    id = serializers.IntegerField(source="key")
    title = serializers.CharField()
    note = serializers.CharField()
    url = serializers.CharField(help_text="The path of its page.")


class FoundResponse(ResponseSerializer):
    """What was found of one kind: how many in all, and the first of them."""

    kind = serializers.CharField(source="kind.name")
    name = serializers.CharField(source="kind.label")
    count = serializers.IntegerField()
    hits = HitResponse(many=True)


class FoundPageResponse(ResponseSerializer):
    """A page of the studio, found by what somebody wants to do."""

    title = serializers.CharField(source="label")
    note = serializers.CharField()
    url = serializers.CharField(help_text="The path of the page.")


class SearchResponse(ResponseSerializer):
    """What was found, kind by kind. Case and accents make no difference."""

    opens = HitResponse(allow_null=True, help_text="What has exactly this code, where it is one thing alone.")
    count = serializers.IntegerField(help_text="Of things and pages.")
    pages = FoundPageResponse(many=True)
    kinds = FoundResponse(many=True)


class SearchViewSet(StudioViewSet):
    """Look for anything by words or by its code."""

    permission_classes = [IsSignedIn]
    queryset = User.objects.none()
    serializer_class = SearchResponse
    pagination_class = None
    is_one_row = True
    query_names: ClassVar[dict[str, tuple[str, ...]]] = {"list": ("q", "kind")}

    @extend_schema(parameters=PARAMETERS)
    def list(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        """The first five hits of each kind, or fifty of one."""
        form = SearchForm(request.query_params)
        if not form.is_valid():
            raise ValidationError(
                {field: [str(each) for each in told] for field, told in form.errors.items()}
            )
        text, name = form.cleaned_data["q"], form.cleaned_data["kind"]
        if not text:
            raise ValidationError({"q": [_("Give words or a code to look for.")]})
        formatter = Formatter.of(current_studio(request._request))
        kinds = {kind.name: kind for kind in kinds_for(self.user)}
        if not name:
            found = queries.search(text, kinds.values(), formatter)
            pages = found_pages(text, self.user)
            count = len(pages) + sum(group.count for group in found)
            return self.answer(
                {"opens": queries.opens(found), "count": count, "pages": pages, "kinds": found}
            )
        if name not in kinds:
            raise ValidationError({"kind": [_("Choose one of: {names}.", names=", ".join(kinds))]})
        group = self._one_kind(kinds[name], text, formatter)
        return self.answer({"opens": None, "count": group.count, "pages": [], "kinds": [group]})

    def _one_kind(self, kind: Any, text: str, formatter: Formatter) -> queries.Found:
        pages = Paginator(queries.found_of(kind, text), queries.A_PAGE)
        number = self.request.query_params.get("page", "1")
        if not number.isascii() or not number.isdigit() or not 1 <= int(number) <= pages.num_pages:
            raise NotFound(_("There is no such page."))
        hits = [kind.hit(row, formatter) for row in pages.page(int(number))]
        return queries.Found(kind, pages.count, hits, ())


VIEWSETS = {"search": SearchViewSet}
