"""Pours: one surface each, with every line charged to it."""

from typing import Any

from django.shortcuts import get_object_or_404
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from inventory.ledger.api.base import Days, Named, ShelfView, between
from inventory.sessions.models import Pour
from inventory.sessions.queries.session_costs import pour_account
from studio.api.fields import Amount, MoneyAmount, ResponseSerializer, WholeNumber
from studio.api.views import REFUSED
from studio.values.units import Measure


class PoursQuery(Days):
    """What the list may be asked for."""

    session = WholeNumber(least=1, required=False)
    technique = WholeNumber(least=1, required=False)
    surface = WholeNumber(least=1, required=False)
    outcome = serializers.ChoiceField(required=False, choices=Pour.Outcome.choices)


class PourResponse(ResponseSerializer):
    """One pour, by the label on its back."""

    id = serializers.IntegerField(source="pk")
    label = serializers.CharField()  # type: ignore[assignment]
    session = serializers.IntegerField(source="session_id")
    number = serializers.IntegerField()
    surface = Named()
    over = serializers.IntegerField(source="over_id", allow_null=True)
    technique = Named()
    area = Amount("area", Measure.AREA)
    poured = Amount("poured", Measure.VOLUME, help_text="Run-off included.")
    run_off = Amount("run_off", Measure.VOLUME, allow_null=True)
    outcome = serializers.ChoiceField(choices=Pour.Outcome.choices)
    arm = serializers.CharField()
    notes = serializers.CharField()
    is_reversed = serializers.SerializerMethodField()

    def get_is_reversed(self, pour: Pour) -> bool:
        return hasattr(pour.session.posting, "reversed_by")


class ChargeResponse(ResponseSerializer):
    """So much of one material from one lot; no lot for tap water and the like."""

    material = Named()
    lot = serializers.IntegerField(source="lot.pk", allow_null=True)
    label = serializers.CharField(source="lot.label", allow_null=True)  # type: ignore[assignment]
    quantity = Amount("quantity", "material.measure")
    role = serializers.CharField()
    posting = serializers.IntegerField(source="posting.number")
    money = MoneyAmount()


class PourDetailResponse(ResponseSerializer):
    """One pour and what it took, corrections of cost included."""

    pour = PourResponse()
    rate = serializers.IntegerField(help_text="Microlitres poured per cm², run-off included.")
    lines = ChargeResponse(many=True)
    cost = MoneyAmount()


class PourList(ShelfView):
    query = PoursQuery
    is_list = True

    @extend_schema(
        operation_id="pours_list",
        parameters=[PoursQuery],
        responses={200: PourResponse(many=True), **REFUSED},
    )
    def get(self, request: Request) -> Response:
        """Pours, newest session first."""
        found = between(pours(), "session__held_on", self.asked)
        for name in ("session", "technique", "surface", "outcome"):
            if name in self.asked:
                found = found.filter(**{name: self.asked[name]})
        return self.paged(PourResponse, found.order_by("-session__held_on", "-session_id", "number"))


class PourDetail(ShelfView):
    @extend_schema(operation_id="pours_read", responses={200: PourDetailResponse, **REFUSED})
    def get(self, request: Request, pk: int) -> Response:
        """One pour with every line charged to it."""
        return self.one(PourDetailResponse, pour_account(get_object_or_404(pours(), pk=pk)))


def pours() -> Any:
    """Pours with everything their shape shows."""
    return Pour.objects.select_related("surface", "technique", "session__posting__reversed_by")
