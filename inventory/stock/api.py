"""The shelf for programs: materials and what the shelf holds of each, lots, stocktakes and write-offs."""

from typing import Any

from django.db.models import Prefetch
from django.utils import timezone
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from inventory.ledger.api import MovementResponse, PostingDetailViewSet
from inventory.ledger.models import Entry, Lot, Reason
from inventory.ledger.movements import account_movements
from inventory.materials.models import Kind, Material
from inventory.plans.queries import Promises
from inventory.recipes.models import Mix
from inventory.reordering.queries import levels
from inventory.sessions.queries.pours import pours_from
from inventory.stock.actions.lots import write_off
from inventory.stock.actions.stocktakes import Count, post_stocktake, weighed
from inventory.stock.filters import LotFilter, StockFilter, StocktakeFilter
from inventory.stock.models import Stocktake, StocktakeLine
from inventory.stock.queries import held_lots, stock_of
from studio.api.fields import (
    LONGEST_NOTES,
    MEASURES,
    MillionthsField,
    MoneyResponseField,
    QuantityField,
    QuantityInput,
    RowField,
    RowNumbersField,
)
from studio.api.serializers import AskingRequest, NamedResponse, RequestSerializer, ResponseSerializer
from studio.api.viewsets import ReadViewSet
from studio.errors import InputError, MeniscusError
from studio.translation import _
from studio.values.units import Measure

MOST_COUNTS = 500
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
        today = timezone.localdate()
        figures = None if as_of else Promises(today).on(today)
        stock = stock_of(Material.objects.filter(pk=row.pk), as_of=as_of, figures=figures)[0]
        return {name: getattr(stock, name) for name in STOCK} | {
            "material": row,
            "reorder_at": level.level if level else None,
            "reorder_reason": level.reason if level else "",
            "held_lots": [
                {"held": held, "material": row, "label": Lot(pk=held.lot).label}
                for held in held_lots(materials=[row.pk], as_of=as_of)
            ],
        }


class LotResponse(ResponseSerializer):
    """One lot, by the label on the jar."""

    id = serializers.IntegerField(source="pk")
    label = serializers.CharField()  # type: ignore[assignment]
    material = NamedResponse()
    origin = serializers.ChoiceField(choices=Lot.Origin.choices)
    received_on = serializers.DateField()
    opened_on = serializers.DateField(allow_null=True)
    best_before = serializers.DateField(allow_null=True)
    place = serializers.CharField()
    supplier_batch = serializers.CharField()
    holds = QuantityField("balance.quantity", "material.measure", help_text="Null before its first posting.")
    value = MoneyResponseField(source="balance.money", allow_null=True)


class LotDetailResponse(LotResponse):
    """One lot with where it came from and its last movements."""

    empty_weight = QuantityField("empty_weight", Measure.MASS)
    decanted_from = serializers.IntegerField(source="decanted_from_id", allow_null=True)
    decanted_into = RowNumbersField()
    use_by = serializers.DateField(source="held.use_by", allow_null=True)
    delivery = serializers.IntegerField(source="delivery_line.delivery_id", allow_null=True)
    mix = serializers.IntegerField(source="made_by_mix", allow_null=True)
    pours = RowNumbersField(source="poured_on", help_text="Pours made from it, reversed ones left out.")
    movements = MovementResponse(many=True, help_text="The latest, newest first.")


class LotViewSet(ReadViewSet):
    """Lots, newest first."""

    queryset = Lot.objects.select_related("material", "balance").order_by("-received_on", "-pk")
    serializer_class = LotResponse
    detail_serializer_class = LotDetailResponse
    filterset_class = LotFilter

    def details_of(self, row: Any) -> Any:
        row.held = next(iter(held_lots(lots=[row.pk])), None)
        row.movements = account_movements(Entry.objects.filter(lot=row))
        row.poured_on = pours_from(row)
        row.made_by_mix = Mix.objects.filter(lot=row).values_list("pk", flat=True).first()
        return row


class ChosenLotField(RowField):
    """A lot to draw from first; it must be one of the material drawn."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(Lot.objects.select_related("material"), **kwargs)


def number_of(lot: Lot | None, material: Material | None, *, field: str = "lot") -> int | None:
    """The lot's number. Raises InputError for a lot of another material, which the ledger would pass over."""
    if lot is not None and lot.material != material:
        message = _(
            "{lot} holds {held}, not {wanted}.", lot=lot.label, held=lot.material, wanted=material or "–"
        )
        raise InputError(message, field=field)
    return lot.pk if lot else None


class CountRequest(RequestSerializer):
    """One lot, counted or weighed; `empty` is the weight of its container where the lot does not say."""

    lot = RowField(Lot.objects.select_related("material"))
    counted = QuantityInput(required=False)
    weighed = QuantityInput(required=False, help_text="Container and contents together.")
    empty = QuantityInput(required=False)
    how = serializers.CharField(required=False, max_length=120, allow_blank=True, default="")

    def validate(self, attrs: dict[str, Any]) -> Any:
        if ("counted" in attrs) == ("weighed" in attrs):
            raise serializers.ValidationError(_("Give either the amount found or its weight."))
        lot, how = attrs["lot"], attrs["how"]
        if "counted" in attrs:
            counted = self.amount_of("counted", attrs["counted"], lot.material, allow_zero=True)
            return Count(lot, counted, how or "counted")
        gross, empty = (
            self.amount_in(name, attrs[name], Measure.MASS, allow_zero=True) if name in attrs else None
            for name in ("weighed", "empty")
        )
        try:
            return Count(lot, weighed(lot, gross or 0, empty), how or "weighed")
        except MeniscusError as problem:
            raise InputError(str(problem), field="weighed") from None


class StocktakeRequest(RequestSerializer):
    """A stocktake of the shelf, or of part of it."""

    counted_on = serializers.DateField()
    notes = serializers.CharField(required=False, max_length=LONGEST_NOTES, allow_blank=True, default="")
    counts = serializers.ListSerializer[Any](child=CountRequest(), allow_empty=False, max_length=MOST_COUNTS)


class StocktakeResponse(ResponseSerializer):
    """A stocktake; without a posting when everything matched."""

    id = serializers.IntegerField(source="pk")
    counted_on = serializers.DateField()
    notes = serializers.CharField()
    posting = serializers.IntegerField(source="posting_id", allow_null=True)


class CountResponse(ResponseSerializer):
    """One lot: expected and counted."""

    lot = serializers.IntegerField(source="lot_id")
    label = serializers.CharField(source="lot.label")  # type: ignore[assignment]
    material = NamedResponse(source="lot.material")
    expected = QuantityField("expected", "lot.material.measure")
    counted = QuantityField("counted", "lot.material.measure")
    how = serializers.CharField()


class StocktakeDetailResponse(StocktakeResponse):
    """A stocktake with its counts."""

    lines = CountResponse(many=True, source="lines.all")


class StocktakeViewSet(ReadViewSet):
    """Stocktakes, newest first."""

    queryset = Stocktake.objects.prefetch_related(
        Prefetch("lines", StocktakeLine.objects.select_related("lot__material"))
    ).order_by("-counted_on", "-pk")
    serializer_class = StocktakeResponse
    detail_serializer_class = StocktakeDetailResponse
    request_serializer_class = StocktakeRequest
    filterset_class = StocktakeFilter
    has_key = True

    def create(self, request: Request) -> Response:
        """Post a stocktake: differences become losses and gains, what matches is recorded without an entry."""
        return self.post_once(
            lambda body: post_stocktake(
                counts=body["counts"], notes=body["notes"], submission=self.submission(on=body["counted_on"])
            )
        )


class WriteOffRequest(AskingRequest):
    """So much out of one lot, for a named reason."""

    lot = RowField(Lot.objects.select_related("material"))
    quantity = QuantityInput()
    reason = RowField(Reason.objects.exclude(kind=Reason.Kind.COUNT))
    on = serializers.DateField()
    note = serializers.CharField(required=False, max_length=300, allow_blank=True, default="")

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        return attrs | {"quantity": self.amount_of("quantity", attrs["quantity"], attrs["lot"].material)}


class WriteOffViewSet(PostingDetailViewSet):
    """Write-offs; they are read back among the postings."""

    request_serializer_class = WriteOffRequest
    has_key = True

    def create(self, request: Request) -> Response:
        """Write off some of a lot."""
        return self.post_once(lambda body: write_off(submission=self.submission(on=body.pop("on")), **body))


VIEWSETS = {
    "materials": MaterialViewSet,
    "lots": LotViewSet,
    "stocktakes": StocktakeViewSet,
    "write-offs": WriteOffViewSet,
}
