"""What other endpoints name by number, for programs: suppliers, and the packs that they sell."""

from rest_framework import serializers

from inventory.materials.models import Supplier, Supply
from studio.api.fields import MillionthsField, MoneyResponseField, QuantityField
from studio.api.serializers import NamedResponse, ResponseSerializer
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


class SupplierViewSet(ListViewSet):
    """Suppliers by name."""

    queryset = Supplier.objects.order_by("name", "pk")
    serializer_class = SupplierResponse


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


class PackViewSet(ListViewSet):
    """Packs by material, then by supplier and size."""

    queryset = (
        Supply.objects.select_related("supplier", "material")
        .prefetch_related("price_breaks")
        .order_by("material__name", "supplier__name", "pack_size", "pk")
    )
    serializer_class = PackResponse


VIEWSETS = {"suppliers": SupplierViewSet, "packs": PackViewSet}
