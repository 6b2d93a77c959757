"""Materials and what the shelf holds of each, now or at the end of a past day."""

from typing import Any

from django.shortcuts import get_object_or_404
from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from inventory.ledger.api.base import ShelfView
from inventory.ledger.models import Lot
from inventory.materials.models import Kind, Material
from inventory.reordering import queries as reorder
from inventory.stock import queries as stock
from studio.api.fields import MEASURES, Amount, DecimalText, MoneyAmount, ResponseSerializer
from studio.api.views import REFUSED, QuerySerializer
from studio.translation import _
from studio.values.units import Measure

ORDERS = [sign + order for order in stock.ORDERS for sign in ("", "-")]


class StockQuery(QuerySerializer):
    """What the list may be asked for."""

    money_orders = frozenset({"money"})

    search = serializers.CharField(required=False, max_length=100, help_text="Words in the name or maker.")
    kind = serializers.ChoiceField(required=False, choices=Kind.choices)
    low = serializers.BooleanField(required=False, help_text="Only what has an open reorder alert.")
    archived = serializers.BooleanField(required=False, help_text="Include archived.")
    free = serializers.BooleanField(required=False, help_text="Include tap water and the like.")
    going_off_by = serializers.DateField(required=False, help_text="Only what expires by this day.")
    as_of = serializers.DateField(required=False, help_text="Stock at the end of this day.")
    order = serializers.ChoiceField(required=False, choices=ORDERS, help_text="A minus reverses the order.")

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        if attrs.get("low") and attrs.get("as_of"):
            raise serializers.ValidationError(
                {"low": [_("Alerts are for today only. Leave out as_of, or low.")]}
            )
        return attrs


class MaterialQuery(QuerySerializer):
    """What one material may be asked for."""

    as_of = serializers.DateField(required=False)


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
    held = Amount("quantity", "material.measure")
    lots = serializers.IntegerField()
    opened_lots = serializers.IntegerField()
    use_by = serializers.DateField(allow_null=True)
    on_order = Amount("on_order", "material.measure")
    is_low = serializers.BooleanField(source="has_open_alert")
    value = MoneyAmount(source="money")
    unit_cost = MoneyAmount(
        source="unit_cost.per_base_unit", allow_null=True, help_text="Per mL, g, each, cm² or cm, rounded."
    )


class HeldLotResponse(ResponseSerializer):
    """One lot of a material and what it holds."""

    id = serializers.IntegerField(source="held.lot")
    label = serializers.CharField()  # type: ignore[assignment]
    holds = Amount("held.quantity", "material.measure")
    received_on = serializers.DateField(source="held.received_on")
    opened_on = serializers.DateField(source="held.opened_on", allow_null=True)
    use_by = serializers.DateField(source="held.use_by", allow_null=True)
    value = MoneyAmount(source="held.money")


class MaterialResponse(StockResponse):
    """Everything known of one material."""

    density = DecimalText(source="material.density", allow_null=True, help_text="Grams per millilitre.")
    water_share = DecimalText(
        source="material.water_share", help_text="Share of added water, as a fraction of one."
    )
    height = Amount("material.height", Measure.LENGTH, allow_null=True)
    width = Amount("material.width", Measure.LENGTH, allow_null=True)
    depth = Amount("material.depth", Measure.LENGTH, allow_null=True)
    is_round = serializers.BooleanField(source="material.is_round")
    keeps_days = serializers.IntegerField(source="material.keeps_days", allow_null=True)
    signal_word = serializers.CharField(source="material.signal_word")
    hazards = serializers.CharField(source="material.hazards")
    notes = serializers.CharField(source="material.notes")
    recipe = serializers.IntegerField(source="material.recipe.pk", allow_null=True)
    reorder_at = Amount("reorder_at", "material.measure", allow_null=True)
    reorder_reason = serializers.CharField()
    standing = HeldLotResponse(source="held_lots", many=True)


class MaterialList(ShelfView):
    query = StockQuery
    is_list = True

    @extend_schema(
        operation_id="materials_list",
        parameters=[StockQuery],
        responses={200: StockResponse(many=True), **REFUSED},
    )
    def get(self, request: Request) -> Response:
        """What the shelf holds of every material."""
        asked = self.asked
        rows = stock.stock_list(
            search=asked.get("search", ""),
            kind=asked.get("kind", ""),
            low_only=asked.get("low", False),
            include_archived=asked.get("archived", False),
            include_free=asked.get("free", False),
            going_off_by=asked.get("going_off_by"),
            as_of=asked.get("as_of"),
            alerts=reorder.alert_levels(),
            order=asked.get("order", "name"),
        )
        return self.paged(StockResponse, rows)


class MaterialDetail(ShelfView):
    query = MaterialQuery

    @extend_schema(
        operation_id="materials_read",
        parameters=[MaterialQuery],
        responses={200: MaterialResponse, **REFUSED},
    )
    def get(self, request: Request, pk: int) -> Response:
        """One material, its lots and its reorder level."""
        material = get_object_or_404(Material.objects.select_related("recipe"), pk=pk)
        as_of = self.asked.get("as_of")
        row = stock.stock_of(Material.objects.filter(pk=pk), as_of=as_of, alerts=reorder.alert_levels())[0]
        held = stock.held_lots(materials=[pk], as_of=as_of)
        level = next(iter(reorder.levels(timezone.localdate(), materials=[pk])), None)
        facts = {name: getattr(row, name) for name in ROW} | {
            "material": material,
            "reorder_at": level.level if level else None,
            "reorder_reason": level.reason if level else "",
            "held_lots": [
                {"held": lot, "material": material, "label": Lot(pk=lot.lot).label} for lot in held
            ],
        }
        return self.one(MaterialResponse, facts)


ROW = ("quantity", "money", "lots", "opened_lots", "use_by", "on_order", "has_open_alert", "unit_cost")
