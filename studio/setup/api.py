"""The studio's rates for programs: what an hour costs and the tax inside prices, from which day."""

from typing import Any

from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from studio.accounts.permissions import OwnerWrites
from studio.api.fields import MillionthsField, MoneyField, MoneyResponseField
from studio.api.serializers import RequestSerializer, ResponseSerializer
from studio.api.viewsets import ListViewSet
from studio.auditing.reference_rows import save_row
from studio.preferences.models import Rates


class RatesRequest(RequestSerializer):
    """Rates from a day on. What is null or left out stays as it was before."""

    holds_from = serializers.DateField(allow_null=True, help_text="The first day; null from the beginning.")
    wage_per_hour = MoneyField(allow_null=True, required=False)
    overhead_per_hour = MoneyField(allow_null=True, required=False)
    tax_rate = MillionthsField(
        allow_null=True, required=False, help_text="Included in prices, as a fraction of one."
    )

    def validate(self, attrs: dict[str, Any]) -> Rates:
        return Rates(**attrs)


class RatesResponse(ResponseSerializer):
    """Rates from a day on. Null stays as it was before."""

    id = serializers.IntegerField(source="pk")
    holds_from = serializers.DateField(allow_null=True)
    wage_per_hour = MoneyResponseField(allow_null=True)
    overhead_per_hour = MoneyResponseField(allow_null=True)
    tax_rate = MillionthsField(allow_null=True)


class RatesViewSet(ListViewSet):
    """The studio's rates, the earliest first. The one in force on the day of the work or the sale is used."""

    permission_classes = [OwnerWrites]
    queryset = Rates.objects.all()
    serializer_class = RatesResponse
    request_serializer_class = RatesRequest

    def create(self, request: Request) -> Response:
        """Add rates from a day on. Sent again they are refused: that day has its entry already."""
        return self.answer(save_row(self.read_body(), submission=self.submission()), status=201)


VIEWSETS = {"rates": RatesViewSet}
