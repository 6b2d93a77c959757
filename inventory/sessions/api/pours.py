"""Pours for programs: one surface each, with every line charged to it; and the techniques."""

from typing import Any

from rest_framework import serializers

from inventory.sessions.filters import PourFilter
from inventory.sessions.models import Pour, Technique
from inventory.sessions.queries.session_costs import pour_account
from studio.api.fields import MoneyResponseField, QuantityField, ReversedField
from studio.api.serializers import NamedResponse, ResponseSerializer
from studio.api.viewsets import ListViewSet, ReadViewSet
from studio.values.units import Measure


class TechniqueResponse(NamedResponse):
    """One way of pouring."""

    coverage = serializers.IntegerField(help_text="Microlitres per cm², run-off included.")
    source = serializers.CharField(help_text="Where the figure comes from.")  # type: ignore[assignment]


class TechniqueViewSet(ListViewSet):
    """Techniques by name."""

    queryset = Technique.objects.order_by("name", "pk")
    serializer_class = TechniqueResponse


class PourResponse(ResponseSerializer):
    """One pour, by its number."""

    id = serializers.IntegerField(source="pk")
    label = serializers.CharField()  # type: ignore[assignment]
    session = serializers.IntegerField(source="session_id")
    number = serializers.IntegerField()
    surface = NamedResponse()
    over = serializers.IntegerField(source="over_id", allow_null=True)
    technique = NamedResponse()
    area = QuantityField("area", Measure.AREA)
    poured = QuantityField("poured", Measure.VOLUME, help_text="Run-off included.")
    run_off = QuantityField("run_off", Measure.VOLUME, allow_null=True)
    outcome = serializers.ChoiceField(choices=Pour.Outcome.choices)
    arm = serializers.CharField()
    notes = serializers.CharField()
    is_reversed = ReversedField(source="session.posting")


class ChargeResponse(ResponseSerializer):
    """So much of one material from one lot; no lot for tap water and the like."""

    material = NamedResponse()
    lot = serializers.IntegerField(source="lot.pk", allow_null=True)
    label = serializers.CharField(source="lot.label", allow_null=True)  # type: ignore[assignment]
    quantity = QuantityField("quantity", "material.measure")
    role = serializers.CharField()
    posting = serializers.IntegerField(source="posting.number")
    money = MoneyResponseField()


class PourDetailResponse(ResponseSerializer):
    """One pour and what it took, corrections of cost included."""

    pour = PourResponse()
    rate = serializers.IntegerField(help_text="Microlitres poured per cm², run-off included.")
    lines = ChargeResponse(many=True)
    cost = MoneyResponseField()


class PourViewSet(ReadViewSet):
    """Pours, newest session first."""

    queryset = Pour.objects.select_related("surface", "technique", "session__posting__reversed_by").order_by(
        "-session__held_on", "-session_id", "number"
    )
    serializer_class = PourResponse
    detail_serializer_class = PourDetailResponse
    filterset_class = PourFilter

    def details_of(self, row: Pour) -> Any:
        return pour_account(row)
