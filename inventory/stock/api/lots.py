"""Lots: what came in or was mixed at one time, what is left of it, and where the rest went."""

from typing import Any

from django.shortcuts import get_object_or_404
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from inventory.ledger.api.base import MoveResponse, Named, ShelfView
from inventory.ledger.models import Lot
from inventory.ledger.movements import AccountMovement
from inventory.recipes.models import Mix
from inventory.sessions.queries.lot_use import pours_from
from inventory.stock.cards import lot_card
from studio.api.fields import Amount, MoneyAmount, ResponseSerializer, RowNumber, WholeNumber
from studio.api.views import REFUSED, QuerySerializer
from studio.translation import _
from studio.values.units import Measure


class LotsQuery(QuerySerializer):
    """What the list may be asked for."""

    material = WholeNumber(least=1, required=False)
    held = serializers.BooleanField(required=False, help_text="Only lots that are not empty.")


class LotResponse(ResponseSerializer):
    """One lot, by the label on the jar."""

    id = serializers.IntegerField(source="pk")
    label = serializers.CharField()  # type: ignore[assignment]
    material = Named()
    origin = serializers.ChoiceField(choices=Lot.Origin.choices)
    received_on = serializers.DateField()
    opened_on = serializers.DateField(allow_null=True)
    best_before = serializers.DateField(allow_null=True)
    place = serializers.CharField()
    supplier_batch = serializers.CharField()
    holds = Amount("balance.quantity", "material.measure", help_text="Zero before its first posting.")
    value = MoneyAmount(source="balance.money", allow_null=True)


class LotDetailResponse(LotResponse):
    """One lot with where it came from and its last moves."""

    empty_weight = Amount("empty_weight", Measure.MASS)
    decanted_from = serializers.IntegerField(source="decanted_from_id", allow_null=True)
    decanted_into = serializers.ListField(child=serializers.IntegerField())
    use_by = serializers.DateField(allow_null=True)
    delivery = serializers.IntegerField(allow_null=True)
    mix = serializers.IntegerField(allow_null=True)
    pours = serializers.ListField(
        child=serializers.IntegerField(), help_text="Pours made from it, reversed ones left out."
    )
    moves = MoveResponse(many=True, help_text="The latest, newest first.")


class LotList(ShelfView):
    query = LotsQuery
    is_list = True

    @extend_schema(
        operation_id="lots_list", parameters=[LotsQuery], responses={200: LotResponse(many=True), **REFUSED}
    )
    def get(self, request: Request) -> Response:
        """Lots, newest first."""
        found = Lot.objects.select_related("material", "balance").order_by("-received_on", "-pk")
        if "material" in self.asked:
            found = found.filter(material=self.asked["material"])
        if self.asked.get("held"):
            found = found.on_shelf()
        return self.paged(LotResponse, found)


class LotDetail(ShelfView):
    @extend_schema(operation_id="lots_read", responses={200: LotDetailResponse, **REFUSED})
    def get(self, request: Request, pk: int) -> Response:
        """One lot, by the number on its label."""
        lot = get_object_or_404(Lot.objects.select_related("material", "balance"), pk=pk)
        return self.one(LotDetailResponse, _told(lot))


def _told(lot: Lot) -> dict[str, Any]:
    card = lot_card(lot)
    moves: list[AccountMovement] = list(card.movements)
    return {name: getattr(lot, name) for name in LOT} | {
        "balance": getattr(lot, "balance", None),
        "decanted_into": [jar.pk for jar in card.decanted_into],
        "use_by": card.held.use_by if card.held else None,
        "delivery": card.delivered.delivery_id if card.delivered else None,
        "mix": Mix.objects.filter(lot=lot).values_list("pk", flat=True).first(),
        "pours": [pour.pk for pour in pours_from(lot)],
        "moves": moves,
    }


LOT = (
    "pk",
    "label",
    "material",
    "origin",
    "received_on",
    "opened_on",
    "best_before",
    "place",
    "supplier_batch",
    "empty_weight",
    "decanted_from_id",
)


class ChosenLot(RowNumber):
    """A lot to draw from first; it must be one of the material drawn."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(Lot.objects.select_related("material"), **kwargs)


def refuse_other_lot(lot: Lot | None, material: Any) -> int | None:
    """The lot's number. Raises ValidationError for a lot of another material, which the ledger would pass over."""
    if lot is not None and lot.material_id != material.pk:
        raise serializers.ValidationError(
            {
                "lot": [
                    _("{lot} holds {held}, not {wanted}.", lot=lot.label, held=lot.material, wanted=material)
                ]
            }
        )
    return lot.pk if lot else None
