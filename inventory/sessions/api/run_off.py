"""Run-off for programs: by technique, size, medium and month."""

from datetime import date
from typing import Any

from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from inventory.sessions.filters import RunOffFilter
from inventory.sessions.queries.run_off import RunOffGroup, measured_pours, run_off_of
from studio.accounts.permissions import IsSignedIn
from studio.api.fields import MillionthsField, QuantityField
from studio.api.serializers import ResponseSerializer
from studio.api.viewsets import StudioViewSet
from studio.values.sizes import Size
from studio.values.units import Measure


class RunOffGroupResponse(ResponseSerializer):
    """Some pours together; the shares are fractions of one."""

    name = serializers.SerializerMethodField(
        help_text="Technique, size, media, or the first day of the month."
    )
    pours = serializers.IntegerField()
    poured = QuantityField("poured", Measure.VOLUME)
    ran_off = QuantityField("ran_off", Measure.VOLUME)
    share = MillionthsField()
    least = MillionthsField()
    largest = MillionthsField()

    def get_name(self, row: RunOffGroup) -> str:
        if isinstance(row.key, Size):
            size: str = self.context["formatter"].size(row.key)
            return size
        return row.key.isoformat() if isinstance(row.key, date) else str(row.key)


class RunOffResponse(ResponseSerializer):
    """What ran off of the newest measured pours, at most 1,000."""

    pours = serializers.IntegerField()
    by_technique = RunOffGroupResponse(many=True)
    by_size = RunOffGroupResponse(many=True)
    by_medium = RunOffGroupResponse(many=True)
    by_month = RunOffGroupResponse(many=True)


class RunOffViewSet(StudioViewSet):
    """How much ran off?"""

    permission_classes = [IsSignedIn]
    queryset = measured_pours()
    serializer_class = RunOffResponse
    filterset_class = RunOffFilter
    pagination_class = None
    is_one_row = True

    def list(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        """The groups, each with its share."""
        return self.answer(run_off_of(self.asked().qs))
