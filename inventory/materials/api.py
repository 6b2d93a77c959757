"""What other endpoints name by number, for programs: suppliers."""

from rest_framework import serializers

from inventory.materials.models import Supplier
from studio.api.serializers import NamedResponse
from studio.api.viewsets import ListViewSet


class SupplierResponse(NamedResponse):
    """One supplier."""

    country = serializers.CharField()
    currency = serializers.CharField()
    lead_time_days = serializers.IntegerField()


class SupplierViewSet(ListViewSet):
    """Suppliers by name."""

    queryset = Supplier.objects.order_by("name", "pk")
    serializer_class = SupplierResponse


VIEWSETS = {"suppliers": SupplierViewSet}
