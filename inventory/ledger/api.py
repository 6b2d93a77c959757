"""The ledger for programs: postings with their movements, one of them reversed, and the named reasons."""

from collections.abc import Mapping, Sequence
from typing import Any

from django.db.models import Model
from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from inventory.errors import CannotReverse
from inventory.ledger.closing import choose_costing_method, close_through
from inventory.ledger.effects import Effect
from inventory.ledger.filters import PostingFilter
from inventory.ledger.models import Books, CostingMethod, Lot, Place, Posting, PostingKind, Reason
from inventory.ledger.movements import source_movements
from inventory.ledger.reasons import save_reason
from inventory.ledger.reversals import refuse_without_right, reverse
from inventory.ledger.summaries import reversal_obstacle
from studio.api.fields import MoneyResponseField, QuantityField
from studio.api.rows import KeptRowsViewSet, OneRowViewSet, RowRequest
from studio.api.serializers import NamedResponse, RequestSerializer, ResponseSerializer
from studio.api.viewsets import ListViewSet, ReadViewSet, StudioViewSet
from studio.submission import transaction


class ReversalRequest(RequestSerializer):
    """Why a posting is reversed."""

    reason = serializers.CharField(required=False, max_length=300, allow_blank=True, default="")


class ReasonResponse(NamedResponse):
    """One named way out of stock or work."""

    code = serializers.CharField()
    kind = serializers.ChoiceField(choices=Reason.Kind.choices)


class MovementResponse(ResponseSerializer):
    """One movement, seen from one of its two accounts: what that account gained."""

    posting = serializers.IntegerField(source="posting.number")
    on = serializers.DateField(source="effective_on")
    kind = serializers.CharField(source="posting.kind")
    line = serializers.IntegerField()
    material = NamedResponse()
    quantity = QuantityField("quantity", "material.measure")
    money = MoneyResponseField()
    role = serializers.CharField()
    account = serializers.CharField(source="account_name")
    counterpart = serializers.CharField(source="counterpart_name")
    is_reversed = serializers.BooleanField()


class ConfirmationResponse(serializers.Serializer[Any]):
    """Something unusual that was confirmed when it was recorded."""

    topic = serializers.CharField()
    text = serializers.CharField()


@extend_schema_field(ConfirmationResponse(many=True))
class ConfirmedField(serializers.Field[Any, Any, list[dict[str, str]], Any]):
    """What was unusual in a posting and confirmed by whoever recorded it; what is about money for some only."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(read_only=True, **kwargs)

    def to_representation(self, value: Posting) -> list[dict[str, str]]:
        sees_money = self.context.get("sees_money", False)
        return [
            {"topic": each["topic"], "text": each["text"]}
            for each in value.confirmed
            if sees_money or not each["is_money"]
        ]


class SealField(serializers.CharField):
    """A seal. It is over the money too, which whoever knows the rest of a posting could work out by trying amounts."""

    is_money = True

    def __init__(self, **kwargs: Any) -> None:
        help_text = "Its link in the ledger's chain (SHA-256). For those who see money."
        super().__init__(required=False, help_text=help_text, **kwargs)


class PostingResponse(ResponseSerializer):
    """A posting. Its number is its place in the ledger."""

    number = serializers.IntegerField()
    kind = serializers.ChoiceField(choices=PostingKind.choices)
    effective_on = serializers.DateField()
    recorded_at = serializers.DateTimeField()
    recorded_by = serializers.CharField(source="recorded_by.username")
    note = serializers.CharField()
    reverses = serializers.IntegerField(source="reverses_id", allow_null=True)
    reversed_by = serializers.IntegerField(source="reversed_by.number", allow_null=True)
    corrects = serializers.IntegerField(source="corrects_id", allow_null=True)
    confirmed = ConfirmedField(source="*")
    hash = SealField()


class PostingDetailResponse(ResponseSerializer):
    """A posting with its movements, each seen from the account that gave."""

    posting = PostingResponse()
    movements = MovementResponse(many=True)


class EffectResponse(ResponseSerializer):
    """One account that a posting would change, before and after. Quantities are of a lot alone."""

    account = serializers.ChoiceField(source="account.place", choices=Place.choices)
    lot = serializers.IntegerField(source="account.lot", allow_null=True)
    pour = serializers.IntegerField(source="account.pour", allow_null=True)
    reason = serializers.IntegerField(source="account.reason", allow_null=True)
    quantity_before = QuantityField("quantity_before", "measure", allow_null=True)
    quantity_after = QuantityField("quantity_after", "measure", allow_null=True)
    money_before = MoneyResponseField()
    money_after = MoneyResponseField()


def effect_rows(effects: Sequence[Effect]) -> list[dict[str, Any]]:
    """What EffectResponse shows: one query for the measures of lots."""
    lots = Lot.objects.filter(pk__in=[each.account.lot for each in effects if each.account.lot])
    measures = dict(lots.values_list("pk", "material__measure"))
    return [
        {
            "account": each.account,
            "measure": measures.get(each.account.lot or 0, ""),
            "quantity_before": each.quantity_before if each.account.lot else None,
            "quantity_after": each.quantity_after if each.account.lot else None,
            "money_before": each.money_before,
            "money_after": each.money_after,
        }
        for each in effects
    ]


class PostingDetailViewSet(StudioViewSet):
    """Answers with a posting and its movements."""

    queryset = Posting.objects.select_related("recorded_by", "reversed_by").order_by("-number")
    serializer_class = PostingResponse
    detail_serializer_class = PostingDetailResponse
    lookup_field = "number"

    def details_of(self, row: Posting) -> dict[str, Any]:
        return {"posting": row, "movements": source_movements(row)}


class PostingViewSet(ReadViewSet, PostingDetailViewSet):
    """Postings, newest first."""

    filterset_class = PostingFilter

    @action(detail=True, methods=["post"], has_key=True, request_serializer_class=ReversalRequest)
    def reverse(self, request: Request, number: int) -> Response:
        """Reverse a posting by one that mirrors it, once."""
        posting = self.get_object()

        refuse_without_right(self.user, posting)

        def act(body: dict[str, Any]) -> Posting:
            obstacle = reversal_obstacle(posting)
            # One already reversed goes on to the action, which knows the same request again.
            if obstacle and not hasattr(posting, "reversed_by"):
                raise CannotReverse(obstacle)
            return reverse(posting=posting, note=body["reason"], submission=self.submission())

        return self.post_once(act)


class ReasonRequest(RowRequest):
    """A reason. Its kind stays."""

    class Meta:
        model = Reason
        fields = ("name", "kind")


class ReasonViewSet(KeptRowsViewSet, ListViewSet):
    """Reasons by name. None is deleted: postings name them."""

    queryset = Reason.objects.order_by("name", "pk")
    serializer_class = ReasonResponse
    request_serializer_class = ReasonRequest
    row_model = Reason
    save_action = staticmethod(save_reason)


class BooksRequest(RequestSerializer):
    """How cost follows use, and the day through which the books are closed."""

    costing_method = serializers.ChoiceField(
        choices=CostingMethod.choices, required=False, help_text="Chosen before the first posting."
    )
    closed_through = serializers.DateField(required=False, help_text="A closed period stays closed.")


class BooksResponse(ResponseSerializer):
    """How the books are kept."""

    costing_method = serializers.ChoiceField(choices=CostingMethod.choices)
    closed_through = serializers.DateField(allow_null=True)
    last_number = serializers.IntegerField(help_text="Of the last posting.")


class BooksViewSet(OneRowViewSet):
    """How the books are kept: for owners."""

    queryset = Books.objects.all()
    serializer_class = BooksResponse
    request_serializer_class = BooksRequest
    row_model = Books

    def row(self) -> Books:
        return Books.objects.get(pk=1)

    def save(self, row: Model, body: Mapping[str, Any], *, seen: int | None = None) -> Model:
        submission = self.submission()
        with transaction(submission):
            if "costing_method" in body:
                choose_costing_method(costing_method=body["costing_method"], submission=submission, seen=seen)
            if "closed_through" in body:
                close_through(day=body["closed_through"], submission=submission, seen=seen)
        return row


VIEWSETS = {"books": BooksViewSet, "postings": PostingViewSet, "reasons": ReasonViewSet}
