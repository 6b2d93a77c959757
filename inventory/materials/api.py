"""What other endpoints name by number, for programs: suppliers, and the packs that they sell."""

from typing import Any

from django.shortcuts import get_object_or_404
from django.utils import timezone
from django.utils.translation import gettext_lazy
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from inventory.materials.actions import save_pack, save_supplier
from inventory.materials.filters import PackFilter
from inventory.materials.forms.suppliers import MOST_BREAKS
from inventory.materials.models import MOST, Material, Supplier, Supply
from inventory.purchasing.supplier_history import history_of
from studio.api.fields import (
    MillionthsField,
    MoneyField,
    MoneyResponseField,
    QuantityField,
    QuantityInput,
    RowField,
)
from studio.api.rows import RowRequest, RowsViewSet
from studio.api.serializers import ListOf, NamedResponse, RequestSerializer, ResponseSerializer
from studio.api.viewsets import ListViewSet


class SupplierResponse(NamedResponse):
    """One supplier, with what it asks for an order, in its own currency."""

    country = serializers.CharField()
    currency = serializers.CharField()
    lead_time_days = serializers.IntegerField(help_text="Usual days from order to delivery, as entered.")
    lead_time_variation_days = serializers.IntegerField(help_text="Standard deviation of those days.")
    email = serializers.EmailField(allow_blank=True)
    address = serializers.CharField(allow_blank=True)
    customer_number = serializers.CharField(allow_blank=True, help_text="What it knows the studio by.")
    carriage = MoneyResponseField(help_text="Of one order.")
    free_carriage_from = MoneyResponseField(allow_null=True, help_text="Orders of this much are sent free.")
    minimum_order = MoneyResponseField(allow_null=True, help_text="It sends nothing for less.")
    exchange_rate = MillionthsField(
        allow_null=True,
        help_text="What one unit of its currency costs in the studio's, for comparing prices. Null: the rate of the "
        "last delivery paid for in that currency.",
    )


class OrderTimesResponse(ResponseSerializer):
    """How long one order took. The first promise counts, whatever was promised when somebody asked."""

    order = serializers.IntegerField(source="number")
    ordered_on = serializers.DateField()
    first_promised_on = serializers.DateField(allow_null=True)
    expected_on = serializers.DateField(allow_null=True)
    received_on = serializers.ListField(child=serializers.DateField(), help_text="Each day some of it came.")
    days_promised = serializers.IntegerField(allow_null=True)
    days_taken = serializers.ListField(child=serializers.IntegerField())
    chases = serializers.IntegerField(help_text="How often the supplier was asked where it is.")
    is_open = serializers.BooleanField()


class DayPriceResponse(ResponseSerializer):
    """What a pack cost on a day, in the invoice's currency."""

    on = serializers.DateField()
    price = MoneyResponseField()


class PackPricesResponse(ResponseSerializer):
    """What a pack of a material cost through time, the oldest price first."""

    material = NamedResponse()
    pack_size = QuantityField("pack", "material.measure")
    currency = serializers.CharField()
    prices = DayPriceResponse(many=True)


class YearSumResponse(ResponseSerializer):
    """The deliveries of a year, and what they cost landed in the studio's currency."""

    year = serializers.IntegerField()
    deliveries = serializers.IntegerField()
    landed = MoneyResponseField()


class SupplierHistoryResponse(ResponseSerializer):
    """What the last three years say of one supplier: its latest orders, packs bought more than once, sums by year."""

    orders = OrderTimesResponse(source="times", many=True)
    prices = PackPricesResponse(many=True)
    years = YearSumResponse(many=True)


class SupplierRequest(RowRequest):
    """A supplier, and what it asks for an order in its own currency."""

    class Meta:
        model = Supplier
        fields = (
            "name", "country", "currency", "lead_time_days", "lead_time_variation_days", "email", "address",
            "customer_number", "carriage", "free_carriage_from", "minimum_order", "exchange_rate", "notes",
        )  # fmt: skip


class SupplierViewSet(RowsViewSet, ListViewSet):
    """Suppliers by name."""

    queryset = Supplier.objects.order_by("name", "pk")
    serializer_class = SupplierResponse
    request_serializer_class = SupplierRequest
    row_model = Supplier
    save_action = staticmethod(save_supplier)
    in_use = gettext_lazy("Only a supplier without packs, orders and deliveries can be deleted.")

    @action(detail=True, methods=["get"], detail_serializer_class=SupplierHistoryResponse)
    def history(self, request: Request, pk: int) -> Response:
        """How long its orders took, and what its packs cost through time."""
        supplier = get_object_or_404(self.get_queryset(), pk=pk)
        return self.answer(history_of(supplier, today=timezone.localdate()))


class PriceBreakResponse(ResponseSerializer):
    """What each pack costs when so many or more are bought at once."""

    from_packs = serializers.IntegerField()
    price = MoneyResponseField()


class PackResponse(ResponseSerializer):
    """One pack of a material as a supplier sells it; prices are in the supplier's currency."""

    id = serializers.IntegerField(source="pk")
    supplier = NamedResponse()
    material = NamedResponse()
    pack_size = QuantityField("pack_size", "material.measure")
    price = MoneyResponseField(help_text="Of one pack.")
    price_breaks = PriceBreakResponse(many=True)
    minimum_packs = serializers.IntegerField()
    is_preferred = serializers.BooleanField()
    barcode = serializers.CharField()


class PriceBreakRequest(RequestSerializer):
    """What each pack costs from so many on."""

    from_packs = serializers.IntegerField(min_value=2, max_value=MOST)
    price = MoneyField()


class PackRequest(RowRequest):
    """A pack as a supplier sells it, at a price in the supplier's currency."""

    supplier = RowField(Supplier.objects.all())
    material = RowField(Material.objects.all())
    pack_size = QuantityInput()
    price_breaks = ListOf(child=PriceBreakRequest(), required=False, max_length=MOST_BREAKS)

    class Meta:
        model = Supply
        fields = (
            "supplier", "material", "pack_size", "price", "price_breaks", "barcode", "minimum_packs",
            "is_preferred",
        )  # fmt: skip

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        material = attrs.get("material") or getattr(self.instance, "material")  # noqa: B009, one of them is there
        self.read_amounts(attrs, material.measure, "pack_size", density=material.density)
        return attrs


class PackViewSet(RowsViewSet, ListViewSet):
    """Packs by material, then by supplier and size; with `gtin` those with that barcode."""

    queryset = (
        Supply.objects.select_related("supplier", "material")
        .prefetch_related("price_breaks")
        .order_by("material__name", "supplier__name", "pack_size", "pk")
    )
    serializer_class = PackResponse
    filterset_class = PackFilter
    request_serializer_class = PackRequest
    row_model = Supply

    def save(self, row: Any, body: Any, *, seen: int | None = None) -> Any:
        breaks = body.pop("price_breaks", None)
        for name, value in body.items():
            setattr(row, name, value)
        pairs = None if breaks is None else [(each["from_packs"], each["price"]) for each in breaks]
        return save_pack(row, submission=self.submission(), seen=seen, breaks=pairs)


VIEWSETS = {"suppliers": SupplierViewSet, "packs": PackViewSet}
