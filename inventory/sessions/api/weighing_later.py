"""Weighing what ran off once a session is logged, for programs."""

from typing import Any

from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from inventory.sessions.actions.weighing_later import WeighedPoursFacts, weigh_pours
from inventory.sessions.api.corrections import CorrectableSessionViewSet
from inventory.sessions.api.sessions import MOST_POURS, WeighingRequest
from inventory.sessions.models import Pour
from studio.api.fields import RowField
from studio.api.serializers import ListOf
from studio.api.viewsets import row_action


class WeighedPoursRequest(WeighingRequest):
    """What the scale showed for pours of a session that is logged already: masses as text or exact."""

    pours = ListOf(
        child=RowField(Pour.objects.all()),
        allow_empty=False,
        max_length=MOST_POURS,
        help_text="By their ids: those that were weighed together.",
    )
    take_back = serializers.BooleanField(
        default=False,
        help_text="Earlier weighings that took in other pours as well are taken back, with those pours' run-off.",
    )

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        pours, take_back = attrs.pop("pours"), attrs.pop("take_back")
        return {"pours": pours, "readings": self._readings(attrs), "take_back": take_back}


class WeighableSessionViewSet(CorrectableSessionViewSet):
    """Sessions, newest first."""

    @row_action(has_key=False, request_serializer_class=WeighedPoursRequest)
    def weighings(self, request: Request, pk: int) -> Response:
        """Set what ran off some pours by their weights, in place of earlier ones. Sent again it changes nothing."""
        facts = WeighedPoursFacts(self.get_object(), **self.read_body())
        weigh_pours(facts=facts, submission=self.submission())
        return self.answer(self.get_object())
