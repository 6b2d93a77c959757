"""What other addresses name by number: suppliers, techniques, and the causes of losses."""

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from inventory.ledger.api.base import Named, ShelfView
from inventory.ledger.models import Reason
from inventory.materials.models import Supplier
from inventory.sessions.models import Technique
from studio.api.views import REFUSED


class SupplierResponse(Named):
    """One supplier."""

    country = serializers.CharField()
    currency = serializers.CharField()
    lead_time_days = serializers.IntegerField()


class TechniqueResponse(Named):
    """One way of pouring."""

    coverage = serializers.IntegerField(help_text="Microlitres per cm², run-off included.")
    source = serializers.CharField(  # type: ignore[assignment]  # a field's own `source` is set elsewhere
        help_text="Where the figure comes from."
    )


class ReasonResponse(Named):
    """One named way out of stock or work."""

    code = serializers.CharField()
    kind = serializers.ChoiceField(choices=Reason.Kind.choices)


class SupplierList(ShelfView):
    is_list = True

    @extend_schema(operation_id="suppliers_list", responses={200: SupplierResponse(many=True), **REFUSED})
    def get(self, request: Request) -> Response:
        """Suppliers by name."""
        return self.paged(SupplierResponse, Supplier.objects.order_by("name", "pk"))


class TechniqueList(ShelfView):
    is_list = True

    @extend_schema(operation_id="techniques_list", responses={200: TechniqueResponse(many=True), **REFUSED})
    def get(self, request: Request) -> Response:
        """Techniques by name."""
        return self.paged(TechniqueResponse, Technique.objects.order_by("name", "pk"))


class ReasonList(ShelfView):
    is_list = True

    @extend_schema(operation_id="reasons_list", responses={200: ReasonResponse(many=True), **REFUSED})
    def get(self, request: Request) -> Response:
        """Causes by name."""
        return self.paged(ReasonResponse, Reason.objects.order_by("name", "pk"))
