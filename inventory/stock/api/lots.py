"""Lots for programs: what came in or was mixed at one time, what is left of it, and where the rest went."""

from typing import Any

from rest_framework import serializers

from inventory.ledger.api import MovementResponse
from inventory.ledger.models import Entry, Lot
from inventory.ledger.movements import account_movements
from inventory.materials.models import Material
from inventory.recipes.models import Mix
from inventory.sessions.queries.pours import pours_from
from inventory.stock.filters import LotFilter
from inventory.stock.queries import held_lots
from studio.api.fields import MoneyResponseField, QuantityField, RowField, RowNumbersField
from studio.api.serializers import NamedResponse, ResponseSerializer
from studio.api.viewsets import ReadViewSet
from studio.errors import InputError
from studio.translation import _
from studio.values.units import Measure


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
