"""Opening stock for programs: put right after it was posted."""

from typing import Any

from django.shortcuts import get_object_or_404
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from inventory.ledger.api import PostingDetailViewSet, effect_rows
from inventory.ledger.corrections import receipt_of
from inventory.ledger.models import Lot, Posting
from inventory.purchasing.api.deliveries import CorrectionPreviewResponse, lines_as_sent
from inventory.stock.actions.opening_stock import (
    OpeningCorrectionFacts,
    correct_opening,
    lots_of,
    opening_stock,
    preview_opening_correction,
)
from studio.accounts.permissions import IsOwner
from studio.api.fields import MoneyField, QuantityInput, RowField
from studio.api.serializers import RequestSerializer
from studio.api.viewsets import row_action
from studio.errors import InputError
from studio.translation import _

MOST_LOTS = 100


class LotCorrectionRequest(RequestSerializer):
    """One lot as it should have been recorded. What is left out stays as it is."""

    lot = RowField(Lot.objects.select_related("material"))
    quantity = QuantityInput(required=False)
    money = MoneyField(required=False, help_text="What that quantity had cost.")

    def validate(self, attrs: dict[str, Any]) -> tuple[int, dict[str, Any]]:
        lot = attrs.pop("lot")
        if "quantity" in attrs:
            attrs["quantity"] = self.amount_of("quantity", attrs["quantity"], lot.material)
        return lot.pk, attrs


class OpeningCorrectionRequest(RequestSerializer):
    """What should have been recorded of opening stock. What is left out stays as it is."""

    received_on = serializers.DateField(required=False)
    lines = serializers.ListSerializer[Any](
        child=LotCorrectionRequest(), required=False, max_length=MOST_LOTS
    )
    reason = serializers.CharField(max_length=300)

    def validate(self, attrs: dict[str, Any]) -> OpeningCorrectionFacts:
        lines = attrs.pop("lines", [])
        by_lot = dict(lines)
        if len(by_lot) < len(lines):
            raise InputError(_("Give each lot only once."), field="lines")
        return OpeningCorrectionFacts(lines=by_lot, **attrs)


class OpeningStockViewSet(PostingDetailViewSet):
    """Opening stock, by the number of its posting; it is read among the postings."""

    @action(
        detail=True,
        methods=["post"],
        has_key=True,
        permission_classes=[IsOwner],
        request_serializer_class=OpeningCorrectionRequest,
    )
    def corrections(self, request: Request, number: int) -> Response:
        """Put opening stock right by one visible posting that follows its goods; answers with that posting."""
        posting = get_object_or_404(opening_stock(), pk=number)

        def act(facts: OpeningCorrectionFacts) -> Posting:
            with lines_as_sent(_lots(posting), facts.lines):
                return correct_opening(posting=posting, facts=facts, submission=self.submission())

        return self.post_once(act)

    @row_action(
        has_key=False,
        url_path="corrections/preview",
        permission_classes=[IsOwner],
        request_serializer_class=OpeningCorrectionRequest,
        detail_serializer_class=CorrectionPreviewResponse,
    )
    def preview(self, request: Request, number: int) -> Response:
        """What a correction would change, account by account, before and after. Nothing is written."""
        posting, facts = get_object_or_404(opening_stock(), pk=number), self.read_body()
        with lines_as_sent(_lots(posting), facts.lines):
            effects = preview_opening_correction(posting=posting, facts=facts, submission=self.submission())
        return Response(self.get_serializer({"effects": effect_rows(effects)}).data)


def _lots(posting: Posting) -> list[int]:
    return [lot.pk for lot in lots_of(receipt_of(posting))]


VIEWSETS = {"opening-stock": OpeningStockViewSet}
