"""Putting a sale right, for programs: what would change, and the correction itself."""

from typing import Any

from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from costing.contacts.models import Contact
from costing.pricing.models import SalesChannel
from costing.selling.actions.corrections import SaleCorrection, correct_sale, preview_correction
from costing.selling.actions.sales import MOST_TOGETHER
from costing.selling.api.sales import SaleViewSet
from costing.selling.models import Sale, SaleLine
from studio.api.fields import MillionthsField, MoneyField, MoneyResponseField, RowField
from studio.api.serializers import AskingRequest, ListOf, RequestSerializer, ResponseSerializer
from studio.api.viewsets import row_action
from studio.errors import InputError
from studio.translation import _


class CorrectedLineRequest(RequestSerializer):
    """What a piece of a sale was really sold for. What is left out stays as it is."""

    line = RowField(SaleLine.objects.all())
    price = MoneyField(required=False, help_text="Before its discount, tax included.")
    discount = MoneyField(required=False, help_text="With its share of a discount on the whole.")

    def validate(self, attrs: dict[str, Any]) -> tuple[int, dict[str, int]]:
        line = attrs.pop("line")
        return line.pk, attrs


class SaleCorrectionRequest(AskingRequest):
    """What should have been recorded of a sale. What is left out stays as it is."""

    channel = RowField(SalesChannel.objects.all(), required=False)
    on = serializers.DateField(required=False, help_text="The day on which it was really sold.")
    postage = MoneyField(required=False, help_text="Charged to the buyer, tax included.")
    postage_paid = MoneyField(required=False, help_text="What sending it cost.")
    buyer = RowField(
        Contact.objects.all(), required=False, allow_null=True, help_text="A contact; null for none."
    )
    lines = ListOf(child=CorrectedLineRequest(), required=False, default=list, max_length=MOST_TOGETHER)
    reason = serializers.CharField(max_length=200, help_text="For the books.")

    def validate(self, attrs: dict[str, Any]) -> SaleCorrection:
        lines, reason = attrs.pop("lines"), attrs.pop("reason")
        by_line = dict(lines)
        if len(by_line) < len(lines):
            raise InputError(_("Give each line only once."), field="lines")
        return SaleCorrection(attrs, by_line, reason)


class CorrectedPieceResponse(ResponseSerializer):
    """The figures of a piece of a sale."""

    piece = serializers.IntegerField(source="line.piece_id")
    title = serializers.CharField(source="piece.title")
    price = MillionthsField(source="line.price")
    postage = MillionthsField(source="line.postage")
    postage_paid = MoneyResponseField(source="line.postage_paid")
    tax = MoneyResponseField()
    fees = MoneyResponseField()
    net_proceeds = MoneyResponseField()
    cost = MoneyResponseField()
    profit = MoneyResponseField()


class SaleCorrectionPreviewResponse(ResponseSerializer):
    """The pieces of a sale as recorded and as corrected."""

    before = CorrectedPieceResponse(source="before.lines", many=True)
    after = CorrectedPieceResponse(source="after.lines", many=True)


class CorrectableSaleViewSet(SaleViewSet):
    """Sales, newest first."""

    @action(detail=True, methods=["post"], has_key=True, request_serializer_class=SaleCorrectionRequest)
    def corrections(self, request: Request, pk: int) -> Response:
        """Put a sale right: it is undone, and sold again as corrected. Answers with the sale in its place."""
        sale: Sale = self.get_object()

        def act(facts: SaleCorrection) -> Sale:
            return correct_sale(sale=sale, facts=facts, submission=self.submission())

        return self.post_once(act)

    @row_action(
        has_key=False,
        url_path="corrections/preview",
        request_serializer_class=SaleCorrectionRequest,
        detail_serializer_class=SaleCorrectionPreviewResponse,
    )
    def preview(self, request: Request, pk: int) -> Response:
        """What a correction would change, piece by piece, before and after. Nothing of it stays."""
        sale, facts = self.get_object(), self.read_body()
        shown = preview_correction(sale=sale, facts=facts, submission=self.submission())
        return Response(self.get_serializer(shown).data)


VIEWSETS = {"sales": CorrectableSaleViewSet}
