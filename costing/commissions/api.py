"""Commissions for programs: agreed, changed, paid for, cancelled. They are finished by a sale."""

from typing import Any

from drf_spectacular.utils import extend_schema, extend_schema_field
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from costing.commissions.actions import (
    CancelFacts,
    PaymentFacts,
    cancel_commission,
    receive_payment,
    reopen_commission,
    reverse_payment,
)
from costing.commissions.filters import CommissionFilter
from costing.commissions.models import (
    LONGEST_WANTED,
    Commission,
    CommissionPayment,
    CommissionState,
    PaymentKind,
)
from costing.commissions.queries import CommissionFigures, commissions, figures_of
from costing.contacts.models import Contact
from costing.pricing.models import SalesChannel
from inventory.ledger.adding import add_once
from studio.accounts.permissions import WritersOnly
from studio.api.fields import MillionthsField, MoneyField, RowField
from studio.api.schema import ENTITY_TAG, IF_MATCH
from studio.api.serializers import NamedResponse, RequestSerializer, ResponseSerializer
from studio.api.viewsets import ReadViewSet, change_seen, row_action
from studio.auditing.reference_rows import save_row
from studio.translation import _

CHANNELS = SalesChannel.objects.filter(is_active=True)


class CommissionRequest(RequestSerializer):
    """What is agreed: for whom, what, at which price, by when."""

    contact = RowField(Contact.objects.all())
    wanted = serializers.CharField(max_length=LONGEST_WANTED)
    price = MoneyField(help_text="Tax included.")
    agreed_on = serializers.DateField()
    wanted_by = serializers.DateField(required=False, allow_null=True, default=None)


class CommissionPaymentRequest(RequestSerializer):
    """A deposit or a further part, paid through a sales channel."""

    amount = MoneyField()
    channel = RowField(CHANNELS)
    on = serializers.DateField()
    reason = serializers.CharField(required=False, max_length=200, allow_blank=True, default="")


class CommissionReversalRequest(RequestSerializer):
    """A payment that was a mistake, and what was wrong with it."""

    payment = RowField(CommissionPayment.objects.select_related("commission"))
    on = serializers.DateField()
    reason = serializers.CharField(max_length=200)


class CommissionCancelRequest(RequestSerializer):
    """How much of what is held is paid back, and how; the rest is kept for a reason."""

    returned = MoneyField(default=0)
    channel = RowField(CHANNELS, required=False, allow_null=True, default=None)
    reason = serializers.CharField(required=False, max_length=200, allow_blank=True, default="")
    on = serializers.DateField()


class CommissionReopenRequest(RequestSerializer):
    """The day on which a cancelled commission goes on."""

    on = serializers.DateField()


class CommissionPaymentResponse(ResponseSerializer):
    """A payment: above zero what came in, below zero what became of it."""

    id = serializers.IntegerField(source="pk")
    kind = serializers.ChoiceField(choices=PaymentKind.choices)
    on = serializers.DateField()
    amount = MillionthsField()
    channel = NamedResponse(allow_null=True)
    reason = serializers.CharField()
    reverses = serializers.IntegerField(source="reverses_id", allow_null=True)


class CommissionResponse(ResponseSerializer):
    """A commission, what was paid for it, and what of that is held as a customer deposit."""

    id = serializers.IntegerField(source="commission.pk")
    contact = serializers.IntegerField(source="commission.contact_id", allow_null=True)
    wanted = serializers.CharField(source="commission.wanted")
    price = MillionthsField(source="commission.price", help_text="Agreed, tax included.")
    agreed_on = serializers.DateField(source="commission.agreed_on")
    wanted_by = serializers.DateField(source="commission.wanted_by", allow_null=True)
    status = serializers.ChoiceField(choices=CommissionState.choices, source="commission.state")
    paid = MillionthsField(help_text="Received and not paid back.")
    held = MillionthsField(help_text="Owed to the buyer: no income before the sale.")
    kept = MillionthsField(help_text="Kept when it was cancelled.")
    left_to_pay = MillionthsField(source="left")


class CommissionDetailResponse(CommissionResponse):
    """The same with every payment."""

    payments = serializers.SerializerMethodField()

    @extend_schema_field(CommissionPaymentResponse(many=True))
    def get_payments(self, figures: CommissionFigures) -> Any:
        rows = figures.commission.payments.select_related("channel")
        return CommissionPaymentResponse(rows, many=True, context=self.context).data


class CommissionViewSet(ReadViewSet):
    """Commissions, the latest first."""

    permission_classes = [WritersOnly]
    queryset = commissions()
    serializer_class = CommissionResponse
    detail_serializer_class = CommissionDetailResponse
    request_serializer_class = CommissionRequest
    filterset_class = CommissionFilter
    has_key = True

    def paginate_queryset(self, queryset: Any) -> Any:
        return figures_of(super().paginate_queryset(queryset) or [])

    def details_of(self, row: Commission) -> Any:
        return figures_of([row])[0]

    def create(self, request: Request) -> Response:
        """Record what was agreed."""
        return self.post_once(lambda body: add_once(Commission(**body), submission=self.submission()))

    @extend_schema(parameters=[ENTITY_TAG])
    def retrieve(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        """One commission, with an `ETag` for whoever changes it."""
        return self.tagged()

    @extend_schema(parameters=[ENTITY_TAG, IF_MATCH])
    @row_action(has_key=False)
    def change(self, request: Request, pk: int) -> Response:
        """Agree anew, as long as it is open: all of it. Sent again it changes nothing."""
        row: Commission = self.get_object()
        for name, value in self.read_body().items():
            setattr(row, name, value)
        save_row(row, submission=self.submission(), seen=change_seen(request))
        return self.tagged()

    @row_action(request_serializer_class=CommissionPaymentRequest)
    def payments(self, request: Request, pk: int) -> Response:
        """Record a deposit or a further part. Answers with the commission."""
        row, body = self.get_object(), self.read_body()
        on = body.pop("on")
        receive_payment(commission=row, facts=PaymentFacts(**body), submission=self.submission(on=on))
        return self.answer(row)

    @row_action(request_serializer_class=CommissionReversalRequest)
    def reversals(self, request: Request, pk: int) -> Response:
        """Reverse a payment that was a mistake. Answers with the commission."""
        row, body = self.get_object(), self.read_body()
        payment: CommissionPayment = body["payment"]
        if payment.commission != row:
            raise serializers.ValidationError({"payment": [_("Choose a payment of this commission.")]})
        reverse_payment(payment=payment, reason=body["reason"], submission=self.submission(on=body["on"]))
        return self.answer(row)

    @row_action(request_serializer_class=CommissionCancelRequest)
    def cancel(self, request: Request, pk: int) -> Response:
        """Close it without a sale: what is held is paid back, or kept. Answers with the commission."""
        row, body = self.get_object(), self.read_body()
        on = body.pop("on")
        done = cancel_commission(commission=row, facts=CancelFacts(**body), submission=self.submission(on=on))
        return self.answer(done)

    @row_action(request_serializer_class=CommissionReopenRequest)
    def reopen(self, request: Request, pk: int) -> Response:
        """Open a cancelled one again: what was kept is held again. Answers with the commission."""
        row, body = self.get_object(), self.read_body()
        return self.answer(reopen_commission(commission=row, submission=self.submission(on=body["on"])))


VIEWSETS = {"commissions": CommissionViewSet}
