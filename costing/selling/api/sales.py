"""Sales, returns and refunds for programs. Fees, costs and proceeds are money, left out for helpers without it."""

from collections.abc import Callable
from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from costing.commissions.models import Commission
from costing.contacts.models import Contact
from costing.pieces.models import Piece
from costing.pricing.models import SalesChannel
from costing.selling.actions import (
    PieceSold,
    RefundFacts,
    ReturnFacts,
    SaleFacts,
    refund_line,
    return_line,
    sell_together,
    undo_return,
)
from costing.selling.actions.sales import MOST_TOGETHER
from costing.selling.filters import SaleFilter
from costing.selling.models import Condition, Sale, SaleLine
from costing.selling.queries import SaleFigures, paid_by, sale_figures, with_lines
from inventory.ledger.models import Reason
from studio.accounts.permissions import IsWorker
from studio.api.fields import MillionthsField, MoneyField, MoneyResponseField, RowField
from studio.api.serializers import AskingRequest, ListOf, NamedResponse, RequestSerializer, ResponseSerializer
from studio.api.viewsets import ReadViewSet, row_action
from studio.preferences.models import Studio
from studio.translation import _


class PieceSoldRequest(RequestSerializer):
    """A piece in a sale: its price before discount, tax included, and what it is sold for less."""

    piece = RowField(Piece.objects.all())
    price = MoneyField()
    discount = MoneyField(default=0)

    def validate(self, attrs: dict[str, Any]) -> PieceSold:
        return PieceSold(**attrs)


class SaleRequest(AskingRequest):
    """A sale of one piece (`piece`, `price`) or of several together (`lines`). Prices include tax.

    `discount` is on the whole of it, besides those of single pieces; it is shared out to the penny.
    """

    piece = RowField(Piece.objects.all(), required=False, default=None)
    price = MoneyField(required=False, default=None)
    lines = ListOf(
        child=PieceSoldRequest(), required=False, default=None, allow_empty=False, max_length=MOST_TOGETHER
    )
    channel = RowField(SalesChannel.objects.filter(is_active=True))
    discount = MoneyField(default=0)
    postage = MoneyField(default=0, help_text="Charged to the buyer, tax included.")
    postage_paid = MoneyField(default=0, help_text="What sending it cost.")
    on = serializers.DateField()
    buyer = RowField(
        Contact.objects.all(), required=False, allow_null=True, default=None, help_text="A contact."
    )
    note = serializers.CharField(required=False, max_length=200, allow_blank=True, default="")
    for_commission = RowField(
        Commission.objects.all(),
        required=False,
        allow_null=True,
        default=None,
        help_text="Which order it finishes: what was paid for it is set off against the price.",
    )

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        piece, price, lines = (attrs.pop(name) for name in ("piece", "price", "lines"))
        if (lines is None) == (piece is None) or (piece is None) != (price is None):
            message = _("Send either a piece and its price, or lines with a piece and a price each.")
            raise serializers.ValidationError({"lines": [message]})
        channel, on, commission = (attrs.pop(name) for name in ("channel", "on", "for_commission"))
        return {
            "lines": [PieceSold(piece, price)] if lines is None else lines,
            "channel": channel,
            "on": on,
            "facts": SaleFacts(commission=commission, **attrs),
        }


class RefundRequest(RequestSerializer):
    """A part of what was paid, given back for one line of a sale; the buyer keeps the piece."""

    line = RowField(SaleLine.objects.select_related("sale", "piece"))
    on = serializers.DateField()
    amount = MoneyField()
    fees = MoneyField(default=0, help_text="What the sales channel gives back of its fees.")
    note = serializers.CharField(required=False, max_length=200, allow_blank=True, default="")


class ReturnRequest(RefundRequest):
    """A piece that comes back. Without an amount all that was paid is refunded, and the commission given back."""

    amount = MoneyField(required=False, allow_null=True, default=None)
    fees = MoneyField(required=False, allow_null=True, default=None)
    condition = serializers.ChoiceField(choices=Condition.choices, default=Condition.AS_SOLD)
    reason = RowField(
        Reason.objects.filter(kind=Reason.Kind.LOSS),
        required=False,
        allow_null=True,
        default=None,
        help_text="For the condition “written_off”: a reason of the kind “loss”.",
    )


class UndoReturnRequest(RequestSerializer):
    """A return that was recorded by mistake: its line, and what happened."""

    line = RowField(SaleLine.objects.select_related("sale", "piece"))
    note = serializers.CharField(required=False, max_length=200, allow_blank=True, default="")


class RefundResponse(ResponseSerializer):
    """What was given back for a line, and its credit note number where receipts are numbered."""

    id = serializers.IntegerField(source="pk")
    number = serializers.IntegerField(allow_null=True)
    on = serializers.DateField()
    amount = MillionthsField()
    condition = serializers.CharField(help_text="In which it came back; empty where the buyer kept it.")
    note = serializers.CharField()
    tax = MoneyResponseField()
    fees = MoneyResponseField()


class SaleLineResponse(ResponseSerializer):
    """One piece of a sale, with its share of what was charged for the whole."""

    id = serializers.IntegerField(source="line.pk")
    piece = serializers.IntegerField(source="line.piece_id")
    number = serializers.CharField(source="piece.number", help_text="The number of its first canvas.")
    title = serializers.CharField(source="piece.title")
    full_price = MillionthsField(source="line.full_price", help_text="Before any discount.")
    price = MillionthsField(source="line.price")
    postage = MillionthsField(source="line.postage")
    posting = serializers.IntegerField(source="line.posting_id")
    returned_on = serializers.DateField(source="line.returned_on", allow_null=True)
    refunds = RefundResponse(source="line.refunds.all", many=True)
    postage_paid = MoneyResponseField(source="line.postage_paid")
    tax = MoneyResponseField(source="line.tax", help_text="As it was sold, before refunds.")
    commission = MoneyResponseField(source="line.commission")
    card_fee = MoneyResponseField(source="line.card_fee")
    fixed_fee = MoneyResponseField(source="line.fixed_fee")
    net_proceeds = MoneyResponseField(help_text="After tax, fees, postage and refunds.")
    cost = MoneyResponseField(help_text="Rounded as on its cost sheet; nothing once it came back.")
    profit = MoneyResponseField()


class SaleResponse(ResponseSerializer):
    """One sale: what the buyer paid, and what is left of it after tax, fees and refunds."""

    id = serializers.IntegerField(source="sale.pk")
    number = serializers.IntegerField(source="sale.number", allow_null=True, help_text="Receipt number.")
    channel = NamedResponse(source="sale.channel")
    sold_on = serializers.DateField(source="sale.sold_on")
    buyer = serializers.IntegerField(source="sale.buyer_id", allow_null=True, help_text="A contact.")
    for_commission = serializers.IntegerField(
        source="sale.commission_id", allow_null=True, help_text="The order that it finished."
    )
    paid_before = MillionthsField(source="sale.paid_before", help_text="Set off against the price.")
    balance = MillionthsField(help_text="What was paid at the sale.")
    corrects = serializers.IntegerField(
        source="sale.corrects_id",
        allow_null=True,
        help_text="The sale that was recorded wrongly, in whose place this one stands.",
    )
    corrected_by = serializers.IntegerField(
        source="corrected_by.pk",
        default=None,
        allow_null=True,
        help_text="The sale that stands in its place.",
    )
    note = serializers.CharField(source="sale.note")
    lines = SaleLineResponse(many=True)
    price = MillionthsField(source="total.prices", help_text="Of all its pieces, after discounts.")
    tax_rate = MillionthsField(
        source="sale.tax_rate", help_text="Tax that was included in the price, as a fraction of one."
    )
    tax = MoneyResponseField(source="total.tax", help_text="After refunds, as fees and net proceeds are.")
    fees = MoneyResponseField(source="total.fees")
    net_proceeds = MoneyResponseField(source="total.net_proceeds")


class ReceiptLineResponse(ResponseSerializer):
    """A piece on a receipt."""

    number = serializers.CharField(source="piece.label")
    title = serializers.CharField(source="piece.title")
    full_price = MillionthsField(source="line.full_price", help_text="Before any discount.")


class CreditNoteResponse(ResponseSerializer):
    """What was given back for a piece of the sale, as its credit note says it."""

    number = serializers.IntegerField(allow_null=True)
    on = serializers.DateField()
    title = serializers.CharField(source="line.piece.title")
    amount = MillionthsField()
    tax = MillionthsField(help_text="Included in the amount.")


class ReceiptResponse(ResponseSerializer):
    """What the receipt of a sale says: what was paid as it was sold, tax included; no fee and no cost."""

    number = serializers.IntegerField(source="sale.number", allow_null=True)
    on = serializers.DateField(source="sale.sold_on")
    lines = ReceiptLineResponse(many=True)
    discount = MillionthsField()
    postage = MillionthsField(source="postage_charged")
    total = MillionthsField(source="charged")
    paid_before = MillionthsField(source="sale.paid_before")
    balance = MillionthsField(help_text="What was paid at the sale.")
    tax_rate = MillionthsField(source="sale.tax_rate", help_text="As a fraction of one.")
    tax = MillionthsField(source="tax_charged", help_text="Included in the total.")
    paid = serializers.SerializerMethodField(help_text="How it was paid.")
    credit_notes = serializers.SerializerMethodField()

    def get_paid(self, figures: SaleFigures) -> str:
        return paid_by(figures.sale.channel)

    @extend_schema_field(CreditNoteResponse(many=True))
    def get_credit_notes(self, figures: SaleFigures) -> Any:
        refunds = [refund for _sold, refund in figures.refunds]
        return CreditNoteResponse(refunds, many=True, context=self.context).data


class SaleViewSet(ReadViewSet):
    """Sales, newest first."""

    permission_classes = [IsWorker]
    queryset = with_lines(Sale.objects.order_by("-sold_on", "-pk"))
    serializer_class = SaleResponse
    request_serializer_class = SaleRequest
    filterset_class = SaleFilter
    has_key = True

    def details_of(self, row: Sale) -> Any:
        [figures] = sale_figures([row], Studio.current().currency)
        return figures

    def paginate_queryset(self, queryset: Any) -> list[Any] | None:
        page = super().paginate_queryset(queryset)
        return None if page is None else list(sale_figures(page, Studio.current().currency))

    def create(self, request: Request) -> Response:
        """Record a sale: a piece is sold once, and several are sold together or not at all."""
        return self.post_once(
            lambda body: sell_together(submission=self.submission(on=body.pop("on")), **body)
        )

    @action(detail=True, methods=["get"], detail_serializer_class=ReceiptResponse)
    def receipt(self, request: Request, pk: int) -> Response:
        """The receipt of a sale and the credit notes that followed it, as they are printed."""
        return self.answer(self.get_object())

    @row_action(url_path="return", request_serializer_class=ReturnRequest)
    def take_back(self, request: Request, pk: int) -> Response:
        """Take a piece of a sale back, and refund it. Answers with the sale."""
        return self._give_back(ReturnFacts, return_line)

    @action(detail=True, methods=["post"], url_path="return/undo", request_serializer_class=UndoReturnRequest)
    def undo_return(self, request: Request, pk: int) -> Response:
        """Undo a return that was recorded by mistake. Answers with the sale that stands against the refund."""
        sale: Sale = self.get_object()

        def undo(body: dict[str, Any]) -> Sale:
            line = body.pop("line")
            if line.sale_id != sale.pk:
                raise serializers.ValidationError({"line": [_("Choose a line of this sale.")]})
            return undo_return(line=line, submission=self.submission(), **body)

        return self.post_once(undo)

    @row_action(request_serializer_class=RefundRequest)
    def refund(self, request: Request, pk: int) -> Response:
        """Refund a part of what was paid for a piece that the buyer keeps. Answers with the sale."""
        return self._give_back(RefundFacts, refund_line)

    def _give_back(self, facts_of: Callable[..., Any], act: Callable[..., object]) -> Response:
        sale: Sale = self.get_object()

        def give_back(body: dict[str, Any]) -> Sale:
            line, on = body.pop("line"), body.pop("on")
            if line.sale_id != sale.pk:
                raise serializers.ValidationError({"line": [_("Choose a line of this sale.")]})
            act(line=line, facts=facts_of(**body), submission=self.submission(on=on))
            return sale

        return self.post_once(give_back)
