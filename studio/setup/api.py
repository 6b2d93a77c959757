"""The studio's settings for programs: how it measures out; and its rates, from which day."""

from typing import Any

from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from studio.accounts.permissions import IsSignedIn, OwnerWrites
from studio.api.fields import MillionthsField, MoneyField, MoneyResponseField, QuantityField
from studio.api.serializers import RequestSerializer, ResponseSerializer
from studio.api.viewsets import ListViewSet, StudioViewSet
from studio.auditing.reference_rows import save_row
from studio.preferences.context import current_studio
from studio.preferences.models import MeasuresBy, Rates, Studio
from studio.values.units import Measure


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


class MeasuringResponse(ResponseSerializer):
    """How the studio measures out and stirs, what it reads drops and splashes as, and its limit for water."""

    measures_by = serializers.ChoiceField(choices=MeasuresBy.choices)
    scale_step = QuantityField("scale_step", Measure.MASS)
    measuring_step = QuantityField("measuring_step", Measure.VOLUME)
    drop_size = QuantityField("drop_size", Measure.VOLUME)
    splash_size = QuantityField("splash_size", Measure.VOLUME)
    stir_seconds = serializers.IntegerField(help_text="How long a mix is stirred at the bench.")
    rest_seconds = serializers.IntegerField(help_text="How long the cups then stand.")
    water_limit = MillionthsField(help_text="Added water in a mix, as a fraction of one.")
    water_warning = serializers.CharField(help_text="Why there should not be more.")


class MeasuringViewSet(StudioViewSet):
    """How the studio measures out. The owner sets it on the page of settings."""

    permission_classes = [IsSignedIn]
    queryset = Studio.objects.all()
    serializer_class = MeasuringResponse
    pagination_class = None

    def list(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        """The steps, sizes and the limit that every cup is worked out by."""
        return self.answer(current_studio(request._request))


VIEWSETS = {"rates": RatesViewSet, "measuring": MeasuringViewSet}
