"""Pours by technique, size, medium and month for programs; here how much of them ran off."""

from datetime import date
from typing import Any

from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from inventory.sessions.filters import GroupedPourFilter
from inventory.sessions.queries.pour_groups import PourGroup
from inventory.sessions.queries.run_off import measured_pours, run_off_of
from studio.accounts.permissions import IsSignedIn
from studio.api.fields import MillionthsField, QuantityField
from studio.api.serializers import ResponseSerializer
from studio.api.viewsets import StudioViewSet
from studio.values.sizes import Size
from studio.values.units import Measure


class PourGroupResponse(ResponseSerializer):
    """Some pours together; the shares are fractions of one."""

    name = serializers.SerializerMethodField(
        help_text="Technique, size, media, or the first day of the month."
    )
    pours = serializers.IntegerField()

    def get_name(self, row: PourGroup) -> str:
        if isinstance(row.key, Size):
            size: str = self.context["formatter"].size(row.key)
            return size
        return row.key.isoformat() if isinstance(row.key, date) else str(row.key)


class RunOffGroupResponse(PourGroupResponse):
    """Some measured pours together, and how much of them ran off."""

    poured = QuantityField("poured", Measure.VOLUME)
    ran_off = QuantityField("ran_off", Measure.VOLUME)
    share = MillionthsField()
    least = MillionthsField()
    largest = MillionthsField()


class RunOffResponse(ResponseSerializer):
    """What ran off of the newest measured pours, at most 1,000."""

    pours = serializers.IntegerField()
    total = RunOffGroupResponse(allow_null=True, help_text="All of them together, without a name.")
    by_technique = RunOffGroupResponse(many=True)
    by_size = RunOffGroupResponse(many=True)
    by_medium = RunOffGroupResponse(many=True)
    by_month = RunOffGroupResponse(many=True)


class PourGroupsViewSet(StudioViewSet):
    permission_classes = [IsSignedIn]
    filterset_class = GroupedPourFilter
    pagination_class = None
    is_one_row = True


class RunOffViewSet(PourGroupsViewSet):
    """How much ran off?"""

    queryset = measured_pours()
    serializer_class = RunOffResponse

    def list(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        """The groups, each with its share."""
        return self.answer(run_off_of(self.asked().qs))
