"""The ledger: postings and their moves, one taken back, and stock written off."""

from typing import Any

from django.shortcuts import get_object_or_404
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from inventory.errors import CannotReverse
from inventory.ledger.api.base import Days, MoveResponse, ShelfView, between
from inventory.ledger.models import Entry, Lot, Place, Posting, PostingKind, Reason
from inventory.ledger.movements import source_movements
from inventory.ledger.reversals import reverse
from inventory.ledger.summaries import why_not_taken_back
from inventory.stock.actions.write_offs import write_off
from studio.api.fields import (
    QuantityRequest,
    QuantityText,
    RequestSerializer,
    ResponseSerializer,
    RowNumber,
    WholeNumber,
)
from studio.api.views import KEY_HEADER, REFUSED, REFUSED_TO_WRITE


class PostingsQuery(Days):
    """What the list may be asked for."""

    kind = serializers.ChoiceField(required=False, choices=PostingKind.choices)
    place = serializers.ChoiceField(required=False, choices=Place.choices)
    material = WholeNumber(least=1, required=False)
    reason = WholeNumber(least=1, required=False)


class ReasonRequest(RequestSerializer):
    """Why a posting is taken back."""

    reason = serializers.CharField(required=False, max_length=300, allow_blank=True, default="")


class WriteOffRequest(QuantityRequest):
    """So much out of one lot, for a named cause."""

    lot = RowNumber(Lot.objects.select_related("material"))
    quantity = QuantityText()
    reason = RowNumber(Reason.objects.exclude(kind=Reason.Kind.COUNT))
    on = serializers.DateField()
    note = serializers.CharField(required=False, max_length=300, allow_blank=True, default="")

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        attrs["quantity"] = self.amount_of("quantity", attrs["quantity"], attrs["lot"].material)
        return attrs


class PostingResponse(ResponseSerializer):
    """A posting in a line. Its number is its place in the ledger."""

    number = serializers.IntegerField()
    kind = serializers.ChoiceField(choices=PostingKind.choices)
    effective_on = serializers.DateField()
    recorded_at = serializers.DateTimeField()
    recorded_by = serializers.CharField(source="recorded_by.username")
    note = serializers.CharField()
    reverses = serializers.IntegerField(source="reverses_id", allow_null=True)
    reversed_by = serializers.IntegerField(source="reversed_by.number", allow_null=True)
    hash = serializers.CharField(help_text="Its link in the ledger's chain (SHA-256).")


class PostingDetailResponse(ResponseSerializer):
    """A posting with its moves, each seen from the place that gave."""

    posting = PostingResponse()
    moves = MoveResponse(many=True)


class PostingList(ShelfView):
    query = PostingsQuery
    is_list = True

    @extend_schema(
        operation_id="postings_list",
        parameters=[PostingsQuery],
        responses={200: PostingResponse(many=True), **REFUSED},
    )
    def get(self, request: Request) -> Response:
        """Postings, newest first."""
        found = between(postings(), "effective_on", self.asked)
        if "kind" in self.asked:
            found = found.filter(kind=self.asked["kind"])
        wanted = {name: self.asked[name] for name in ("place", "material", "reason") if name in self.asked}
        if wanted:
            found = found.filter(pk__in=Entry.objects.filter(**wanted).values("posting"))
        return self.paged(PostingResponse, found.order_by("-number"))


class PostingDetail(ShelfView):
    @extend_schema(operation_id="postings_read", responses={200: PostingDetailResponse, **REFUSED})
    def get(self, request: Request, number: int) -> Response:
        """One posting with its moves."""
        return self.one(PostingDetailResponse, _told(number))


class PostingReverse(ShelfView):
    @extend_schema(
        operation_id="postings_reverse",
        parameters=[KEY_HEADER],
        request=ReasonRequest,
        responses={201: PostingDetailResponse, 200: PostingDetailResponse, **REFUSED_TO_WRITE},
    )
    def post(self, request: Request, number: int) -> Response:
        """Take a posting back by one that mirrors it, once."""
        posting = get_object_or_404(postings(), pk=number)
        key, said = self.key, self.said(ReasonRequest)
        status = self.status_for(key)
        stays = why_not_taken_back(posting)
        # One already taken back goes on to the writer, which knows the same request again.
        if stays and not hasattr(posting, "reversed_by"):
            raise CannotReverse(stays)
        mirror = reverse(posting=posting, note=said["reason"], submission=self.submission(key=key))
        return self.one(PostingDetailResponse, _told(mirror.number), status=status)


class WriteOff(ShelfView):
    @extend_schema(
        operation_id="write_offs_post",
        parameters=[KEY_HEADER],
        request=WriteOffRequest,
        responses={201: PostingDetailResponse, 200: PostingDetailResponse, **REFUSED_TO_WRITE},
    )
    def post(self, request: Request) -> Response:
        """Write some of a lot off."""
        key, said = self.key, self.said(WriteOffRequest)
        status = self.status_for(key)
        made = write_off(submission=self.submission(on=said.pop("on"), key=key), **said)
        return self.one(PostingDetailResponse, _told(made.number), status=status)


def postings() -> Any:
    """Postings with everything their shape shows."""
    return Posting.objects.select_related("recorded_by", "reversed_by")


def _told(number: int) -> dict[str, Any]:
    posting = get_object_or_404(postings(), pk=number)
    return {"posting": posting, "moves": source_movements(posting)}
