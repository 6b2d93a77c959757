"""Issued papers for programs."""

from typing import Any

from django.core.exceptions import PermissionDenied
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from studio.accounts.permissions import IsWorker
from studio.accounts.roles import ROLE_REFUSED
from studio.api.serializers import RequestSerializer, ResponseSerializer
from studio.api.viewsets import ReadViewSet
from studio.issued.actions import issue
from studio.issued.kinds import kind_of, kinds_for
from studio.issued.models import IssuedPaper
from studio.translation import _


class IssueRequest(RequestSerializer):
    """A paper to be issued: its kind, and the number of what it is about (a sale, a refund, a piece …)."""

    kind = serializers.CharField(max_length=20)
    about = serializers.IntegerField(min_value=1)

    def validate_kind(self, code: str) -> Any:
        kind = kind_of(code)
        if kind is None:
            raise serializers.ValidationError(_("There is no such kind of document."))
        return kind


class IssuedPaperResponse(ResponseSerializer):
    """A paper as it was issued. Its PDF is the paper `issued` of this number."""

    id = serializers.IntegerField(source="pk")
    kind = serializers.CharField()
    about = serializers.IntegerField()
    version = serializers.IntegerField()
    title = serializers.CharField()
    issued_at = serializers.DateTimeField()


class IssuedPaperViewSet(ReadViewSet):
    """Papers that were issued, the latest first."""

    permission_classes = [IsWorker]
    serializer_class = IssuedPaperResponse
    request_serializer_class = IssueRequest
    queryset = IssuedPaper.objects.all()

    def get_queryset(self) -> Any:
        return super().get_queryset().filter(kind__in=[kind.code for kind in kinds_for(self.user)])

    def create(self, request: Request) -> Response:
        """Issue a paper. Issued again it is the same one, as long as it says the same."""
        body = self.read_body()
        if not body["kind"].may_be_read_by(self.user):
            raise PermissionDenied(str(ROLE_REFUSED))
        made = issue(kind=body["kind"], about=body["about"], submission=self.submission())
        return self.answer(made, status=201)


VIEWSETS = {"issued-papers": IssuedPaperViewSet}
