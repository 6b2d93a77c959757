"""How pours turned out, for programs: by technique, size, medium and month."""

from typing import Any

from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from inventory.comparisons.queries.outcomes import judged_pours, outcomes_of
from inventory.sessions.api.pour_groups import PourGroupResponse, PourGroupsViewSet
from studio.api.fields import MillionthsField
from studio.api.serializers import ResponseSerializer


class OutcomeGroupResponse(PourGroupResponse):
    """Some judged pours together, and how they turned out."""

    good = serializers.IntegerField()
    seconds = serializers.IntegerField()
    failed = serializers.IntegerField()
    share = MillionthsField(help_text="How many of them failed.")
    likely_least = MillionthsField(
        source="likely.least", help_text="From this share of failures on, in 19 cases of 20, by chance alone."
    )
    likely_most = MillionthsField(source="likely.most", help_text="Up to this share, likewise.")


class OutcomesResponse(ResponseSerializer):
    """How the newest judged pours turned out, at most 1,000; none whose arm a blind comparison still hides."""

    pours = serializers.IntegerField()
    total = OutcomeGroupResponse(allow_null=True, help_text="All of them together, without a name.")
    by_technique = OutcomeGroupResponse(many=True)
    by_size = OutcomeGroupResponse(many=True)
    by_medium = OutcomeGroupResponse(many=True)
    by_month = OutcomeGroupResponse(many=True)


class OutcomesViewSet(PourGroupsViewSet):
    """How did pours turn out?"""

    queryset = judged_pours()
    serializer_class = OutcomesResponse

    def list(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        """The groups, each with how many were good, seconds or failed."""
        return self.answer(outcomes_of(self.asked().qs))
