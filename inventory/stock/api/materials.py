"""Materials for programs: what is known of each, and what the shelf holds of it."""

from functools import cached_property
from typing import Any

from django.utils import timezone
from django.utils.translation import gettext_lazy
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from inventory.ledger.models import Lot
from inventory.materials.actions import save_material
from inventory.materials.models import Kind, Material
from inventory.plans.queries import Promises
from inventory.reordering.covers import covers
from inventory.reordering.queries import levels
from inventory.stock.filters import StockFilter
from inventory.stock.queries import held_lots, stock_of
from studio.accounts.permissions import IsWorker
from studio.api.fields import (
    MEASURES,
    MillionthsField,
    MoneyField,
    MoneyResponseField,
    QuantityField,
    QuantityInput,
)
from studio.api.rows import RowRequest, RowsViewSet
from studio.api.schema import ENTITY_TAG, IF_MATCH
from studio.api.serializers import RequestSerializer, ResponseSerializer
from studio.api.viewsets import ReadViewSet, change_seen, row_action
from studio.errors import InputError
from studio.translation import _
from studio.values.units import Measure

AS_OF = OpenApiParameter("as_of", OpenApiTypes.DATE, description="Stock at the end of this day.")
STOCK = (
    "quantity",
    "money",
    "lots",
    "opened_lots",
    "use_by",
    "on_order",
    "has_open_alert",
    "unit_cost",
    "reserved",
    "available",
    "lasts_until",
    "order_by",
    "is_cover_guessed",
)


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
    reserved = QuantityField(
        "reserved", "material.measure", allow_null=True, help_text="By plans; null for a past day."
    )
    available = QuantityField(
        "available",
        "material.measure",
        allow_null=True,
        help_text="From today on, without leaving a plan short; null for a past day.",
    )
    lasts_until = serializers.DateField(
        allow_null=True, help_text="At the usual rate of use; null where none is known, and for a past day."
    )
    order_by = serializers.DateField(
        allow_null=True, help_text="When what is held and coming should reach the reorder level."
    )
    is_cover_guessed = serializers.BooleanField(
        help_text="Whether both days rest on less than two weeks of use."
    )
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
    reorder_level = QuantityField(
        "material.reorder_level",
        "material.measure",
        allow_null=True,
        help_text="The studio's own, if it set one.",
    )
    safety_stock = QuantityField("material.safety_stock", "material.measure", allow_null=True)
    guessed_use = QuantityField("material.guessed_use", "material.measure", allow_null=True)
    storage_limit = QuantityField("material.storage_limit", "material.measure", allow_null=True)
    sides_painted = serializers.BooleanField(source="material.sides_painted")
    free_rate = MoneyResponseField(
        source="material.free_rate", help_text="Per litre, kilogram or 1,000 pieces."
    )
    is_vital = serializers.BooleanField(source="material.is_vital")
    service_level = MillionthsField(source="material.service_level", allow_null=True)
    safety_sheet_dated = serializers.DateField(source="material.safety_sheet_dated", allow_null=True)
    recipe = serializers.IntegerField(source="material.recipe.pk", allow_null=True)
    reorder_at = QuantityField("reorder_at", "material.measure", allow_null=True)
    reorder_reason = serializers.CharField()
    held_lots = HeldLotResponse(many=True)


LEVELS = ("reorder_level", "safety_stock", "guessed_use", "storage_limit")


class MaterialRequest(RowRequest):
    """What is known of a material. Its measure stays once it is in use."""

    measure = serializers.ChoiceField(choices=MEASURES)
    reorder_level = QuantityInput(required=False, allow_null=True)
    safety_stock = QuantityInput(required=False, allow_null=True)
    guessed_use = QuantityInput(required=False, allow_null=True, help_text="Expected in 30 days.")
    storage_limit = QuantityInput(required=False, allow_null=True)
    height = QuantityInput(required=False, allow_null=True)
    width = QuantityInput(required=False, allow_null=True)
    depth = QuantityInput(required=False, allow_null=True)
    density = MillionthsField(required=False, allow_null=True, help_text="Grams per millilitre.")
    water_share = MillionthsField(required=False, help_text="As a fraction of one.")
    free_rate = MoneyField(required=False, help_text="Per litre, kilogram or 1,000 pieces.")
    service_level = MillionthsField(required=False, allow_null=True, help_text="As a fraction of one.")

    class Meta:
        model = Material
        fields = (
            "name", "kind", "measure", "maker", "colour", "density", "water_share", "is_free", "free_rate",
            "height", "width", "depth", "is_round", "sides_painted", *LEVELS, "is_vital", "service_level",
            "keeps_days", "signal_word", "hazards", "safety_sheet_dated", "notes", "is_archived",
        )  # fmt: skip

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        now = self.instance or Material()
        measure, density = (attrs.get("measure", now.measure), attrs.get("density", now.density))
        self.read_amounts(attrs, measure, *LEVELS, density=density, allow_zero=True)
        self.read_amounts(attrs, Measure.LENGTH, "height", "width", "depth", allow_zero=True)
        return attrs


class DensityRequest(RequestSerializer):
    """The weight of a sample, divided by its volume."""

    density = MillionthsField(help_text="Grams per millilitre.")


class MaterialViewSet(RowsViewSet, ReadViewSet):
    """Materials and what the shelf holds of each, by name unless sorted otherwise."""

    request_serializer_class = MaterialRequest
    row_model = Material
    save_action = staticmethod(save_material)
    in_use = gettext_lazy(
        "Only a material that has never been used can be deleted; any other can be archived."
    )

    queryset = Material.objects.select_related("recipe")
    serializer_class = StockResponse
    detail_serializer_class = MaterialResponse
    filterset_class = StockFilter
    query_names = {"retrieve": ("as_of",)}

    def filter_queryset(self, queryset: Any) -> Any:
        """In a list the figures of each material, worked out for the day asked for."""
        return self.listed.rows if self.action == "list" else queryset

    def paginate_queryset(self, queryset: Any) -> Any:
        return self.listed.with_covers(super().paginate_queryset(queryset) or [])

    @cached_property
    def listed(self) -> StockFilter:
        asked: StockFilter = self.asked()
        return asked

    @extend_schema(parameters=[AS_OF, ENTITY_TAG])
    def retrieve(self, request: Request, pk: int) -> Response:
        """One material, its lots and its reorder level, now or at the end of a past day; with its `ETag`."""
        return self.tagged()

    @extend_schema(parameters=[ENTITY_TAG, IF_MATCH])
    @row_action(permission_classes=[IsWorker], request_serializer_class=DensityRequest)
    def density(self, request: Request, pk: int) -> Response:
        """Set the density that was measured at the bench: whoever works there may."""
        row, body = self.get_object(), self.read_body()
        if row.measure not in (Measure.VOLUME, Measure.MASS) or hasattr(row, "recipe"):
            message = _("A density cannot be set for {name}.", name=row)
            raise InputError(message, field="density")
        row.density = body["density"]
        save_material(row, submission=self.submission(), seen=change_seen(request))
        return self.tagged()

    def details_of(self, row: Material) -> dict[str, Any]:
        as_of = self.asked().value("as_of") if self.action == "retrieve" else None
        level = next(iter(levels(timezone.localdate(), materials=[row.pk])), None)
        today = timezone.localdate()
        figures = None if as_of else Promises(today).on(today)
        stock = stock_of(
            Material.objects.filter(pk=row.pk),
            as_of=as_of,
            figures=figures,
            covers=covers([level], today) if level else {},
        )[0]
        return {name: getattr(stock, name) for name in STOCK} | {
            "material": row,
            "reorder_at": level.level if level else None,
            "reorder_reason": level.reason if level else "",
            "held_lots": [
                {"held": held, "material": row, "label": Lot(pk=held.lot).label}
                for held in held_lots(materials=[row.pk], as_of=as_of)
            ],
        }


VIEWSETS = {"materials": MaterialViewSet}
