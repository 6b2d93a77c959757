"""Materials for programs: what the shelf holds of each, now or at the end of a past day."""

from typing import Any

from django.utils import timezone
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from inventory.ledger.models import Lot
from inventory.materials.models import Kind, Material
from inventory.reordering.queries import levels
from inventory.stock.filters import StockFilter
from inventory.stock.queries import held_lots, stock_of
from studio.api.fields import MEASURES, MillionthsField, MoneyResponseField, QuantityField
from studio.api.serializers import ResponseSerializer
from studio.api.viewsets import ReadViewSet
from studio.values.units import Measure

AS_OF = OpenApiParameter("as_of", OpenApiTypes.DATE, description="Stock at the end of this day.")
STOCK = ("quantity", "money", "lots", "opened_lots", "use_by", "on_order", "has_open_alert", "unit_cost")


class StockResponse(ResponseSerializer):
    """One material on the shelf."""

    id = serializers.IntegerField(source="material.pk")
    name = serializers.CharField(source="material.name")
    kind = serializers.ChoiceField(source="material.kind", choices=Kind.choices)
    measure = serializers.ChoiceField(source="material.measure", choices=MEASURES)
    maker = serializers.CharField(source="material.maker")
    colour = serializers.CharField(source="material.colour")
    is_free = serializers.BooleanField(source="material.is_free")
    is_archived = serializers.BooleanField(source="material.is_archived")
    held = QuantityField("quantity", "material.measure")
    lots = serializers.IntegerField()
    opened_lots = serializers.IntegerField()
    use_by = serializers.DateField(allow_null=True)
    on_order = QuantityField("on_order", "material.measure")
    is_low = serializers.BooleanField(source="has_open_alert")
    value = MoneyResponseField(source="money")
    unit_cost = MoneyResponseField(
        source="unit_cost.per_base_unit", allow_null=True, help_text="Per mL, g, each, cm² or cm, rounded."
    )


class HeldLotResponse(ResponseSerializer):
    """One lot of a material and what it holds."""

    id = serializers.IntegerField(source="held.lot")
    label = serializers.CharField()  # type: ignore[assignment]
    holds = QuantityField("held.quantity", "material.measure")
    received_on = serializers.DateField(source="held.received_on")
    opened_on = serializers.DateField(source="held.opened_on", allow_null=True)
    use_by = serializers.DateField(source="held.use_by", allow_null=True)
    value = MoneyResponseField(source="held.money")


class MaterialResponse(StockResponse):
    """Everything known of one material."""

    density = MillionthsField(source="material.density", allow_null=True, help_text="Grams per millilitre.")
    water_share = MillionthsField(
        source="material.water_share", help_text="Share of added water, as a fraction of one."
    )
    height = QuantityField("material.height", Measure.LENGTH, allow_null=True)
    width = QuantityField("material.width", Measure.LENGTH, allow_null=True)
    depth = QuantityField("material.depth", Measure.LENGTH, allow_null=True)
    is_round = serializers.BooleanField(source="material.is_round")
    keeps_days = serializers.IntegerField(source="material.keeps_days", allow_null=True)
    signal_word = serializers.CharField(source="material.signal_word")
    hazards = serializers.CharField(source="material.hazards")
    notes = serializers.CharField(source="material.notes")
    recipe = serializers.IntegerField(source="material.recipe.pk", allow_null=True)
    reorder_at = QuantityField("reorder_at", "material.measure", allow_null=True)
    reorder_reason = serializers.CharField()
    held_lots = HeldLotResponse(many=True)


class MaterialViewSet(ReadViewSet):
    """Materials and what the shelf holds of each, by name unless sorted otherwise."""

    queryset = Material.objects.select_related("recipe")
    serializer_class = StockResponse
    detail_serializer_class = MaterialResponse
    filterset_class = StockFilter
    query_names = {"retrieve": ("as_of",)}

    def filter_queryset(self, queryset: Any) -> Any:
        """In a list the figures of each material, worked out for the day asked for."""
        return self.asked().rows if self.action == "list" else queryset

    @extend_schema(parameters=[AS_OF])
    def retrieve(self, request: Request, pk: int) -> Response:
        """One material, its lots and its reorder level, now or at the end of a past day."""
        return super().retrieve(request, pk)

    def details_of(self, row: Material) -> dict[str, Any]:
        as_of = self.asked().value("as_of")
        level = next(iter(levels(timezone.localdate(), materials=[row.pk])), None)
        stock = stock_of(Material.objects.filter(pk=row.pk), as_of=as_of)[0]
        return {name: getattr(stock, name) for name in STOCK} | {
            "material": row,
            "reorder_at": level.level if level else None,
            "reorder_reason": level.reason if level else "",
            "held_lots": [
                {"held": held, "material": row, "label": Lot(pk=held.lot).label}
                for held in held_lots(materials=[row.pk], as_of=as_of)
            ],
        }
