"""The studio's settings for programs: how it measures out; its rates, from which day; its logo."""

from io import BytesIO
from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from studio.accounts.permissions import IsOwner, IsSignedIn, OwnerWrites
from studio.api.fields import MillionthsField, MoneyField, MoneyResponseField, QuantityField, QuantityInput
from studio.api.files import PhotoUploadField, in_base64
from studio.api.rows import OneRowViewSet, RowRequest, RowsViewSet
from studio.api.schema import ENTITY_TAG, IF_MATCH
from studio.api.serializers import RequestSerializer, ResponseSerializer
from studio.api.viewsets import ListViewSet, StudioViewSet, change_seen
from studio.preferences.context import current_studio
from studio.preferences.models import MeasuresBy, Rates, Studio
from studio.setup.actions import change_settings, store_logo
from studio.values.units import Measure


class RatesRequest(RowRequest):
    """Rates from a day on. What is null stays as it was before."""

    holds_from = serializers.DateField(allow_null=True, help_text="The first day; null from the beginning.")
    wage_per_hour = MoneyField(allow_null=True, required=False)
    overhead_per_hour = MoneyField(allow_null=True, required=False)
    tax_rate = MillionthsField(
        allow_null=True, required=False, help_text="Included in prices, as a fraction of one."
    )

    class Meta:
        model = Rates
        fields = ("holds_from", "wage_per_hour", "overhead_per_hour", "tax_rate")


class RatesResponse(ResponseSerializer):
    """Rates from a day on. Null stays as it was before."""

    id = serializers.IntegerField(source="pk")
    holds_from = serializers.DateField(allow_null=True)
    wage_per_hour = MoneyResponseField(allow_null=True)
    overhead_per_hour = MoneyResponseField(allow_null=True)
    tax_rate = MillionthsField(allow_null=True)


class RatesViewSet(RowsViewSet, ListViewSet):
    """The studio's rates, the earliest first. The one in force on the day of the work or the sale is used."""

    permission_classes = [OwnerWrites]
    queryset = Rates.objects.all()
    serializer_class = RatesResponse
    request_serializer_class = RatesRequest
    row_model = Rates


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
    is_one_row = True

    def list(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        """The steps, sizes and the limit that every cup is worked out by."""
        return self.answer(current_studio(request._request))


SETTINGS = tuple(
    field.name for field in Studio._meta.concrete_fields if field.name not in ("id", "confirmed_at", "logo")
)
STEPS = {"scale_step": Measure.MASS} | dict.fromkeys(
    ("measuring_step", "drop_size", "splash_size"), Measure.VOLUME
)


class SettingsRequest(RowRequest):
    """The studio's settings. What is left out stays as it is. Shares are fractions of one."""

    scale_step = QuantityInput(required=False)
    measuring_step = QuantityInput(required=False)
    drop_size = QuantityInput(required=False)
    splash_size = QuantityInput(required=False)

    class Meta:
        model = Studio
        fields = SETTINGS

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        for name, measure in STEPS.items():
            self.read_amounts(attrs, measure, name)
        return attrs


class SettingsResponse(ResponseSerializer, serializers.ModelSerializer[Any]):
    """The studio's settings."""

    serializer_field_mapping = RowRequest.serializer_field_mapping
    scale_step = QuantityField("scale_step", Measure.MASS)
    measuring_step = QuantityField("measuring_step", Measure.VOLUME)
    drop_size = QuantityField("drop_size", Measure.VOLUME)
    splash_size = QuantityField("splash_size", Measure.VOLUME)

    class Meta:
        model = Studio
        fields = read_only_fields = SETTINGS


class LogoRequest(RequestSerializer):
    """The logo that goes on every document."""

    content = PhotoUploadField()


class LogoResponse(ResponseSerializer):
    """The logo as it is printed."""

    content = serializers.CharField(allow_null=True, help_text="A JPEG in base64; null without one.")


class LogoViewSet(StudioViewSet):
    """The logo on every document. Owners store, replace and remove it."""

    permission_classes = [IsSignedIn]
    queryset = Studio.objects.all()
    serializer_class = LogoResponse
    request_serializer_class = LogoRequest
    pagination_class = None
    is_one_row = True
    post_status = 200

    def get_permissions(self) -> list[Any]:
        return list(super().get_permissions()) if self.action == "list" else [IsOwner()]

    @extend_schema(parameters=[ENTITY_TAG])
    def list(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        """The logo, with an `ETag` for whoever changes it."""
        return self._logo()

    @extend_schema(parameters=[ENTITY_TAG, IF_MATCH])
    def create(self, request: Request) -> Response:
        """Store a logo, in place of the one before."""
        upload = BytesIO(self.read_body()["content"])
        store_logo(upload=upload, seen=change_seen(request), submission=self.submission())
        return self._logo()

    @extend_schema(request=None, parameters=[ENTITY_TAG, IF_MATCH])
    @action(
        detail=False,
        methods=["post"],
        url_path="delete",
        request_serializer_class=RequestSerializer,
        post_status=200,
    )
    def remove(self, request: Request) -> Response:
        """Remove the logo. Sent again it changes nothing."""
        store_logo(upload=None, seen=change_seen(request), submission=self.submission())
        return self._logo()

    def _logo(self) -> Response:
        return self.tagged(lambda: {"content": in_base64(Studio.current().logo)}, fields=["logo"])


class SettingsViewSet(OneRowViewSet):
    """The studio's own settings."""

    queryset = Studio.objects.all()
    serializer_class = SettingsResponse
    request_serializer_class = SettingsRequest
    row_model = Studio
    save_action = staticmethod(change_settings)

    def row(self) -> Studio:
        return Studio.current()


VIEWSETS = {
    "rates": RatesViewSet,
    "measuring": MeasuringViewSet,
    "studio-settings": SettingsViewSet,
    "logo": LogoViewSet,
}
