"""Pours planned once more, for programs: what has changed since, and the plan that is made of it."""

from typing import Any

from django.utils import timezone
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from inventory.plans.api.plans import PlanDetailResponse, PlanDetails, details_of
from inventory.plans.models import Plan
from inventory.plans.repeating.changes import ChangeKind
from inventory.plans.repeating.repeats import (
    MOST_POURS,
    RepeatedLine,
    pours_to_repeat,
    repeat_pours,
    then_and_now,
)
from inventory.sessions.models import Pour, Session
from studio.accounts.permissions import IsSignedIn
from studio.api.fields import QuantityField, RowField
from studio.api.serializers import NamedResponse, RequestSerializer, ResponseSerializer
from studio.api.viewsets import StudioViewSet
from studio.preferences.context import current_studio
from studio.translation import _
from studio.values.units import Measure


class RepeatedPoursRequest(RequestSerializer):
    """The pours of a session, or some pours: those of a piece, or of one arm of a comparison."""

    session = RowField(Session.objects.all(), required=False)
    pours = serializers.ListField(
        child=RowField(Pour.objects.all()), required=False, allow_empty=False, max_length=MOST_POURS
    )

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        if ("session" in attrs) == ("pours" in attrs):
            raise serializers.ValidationError(_("Send either a session or its pours."))
        session, pours = attrs.pop("session", None), attrs.pop("pours", ())
        attrs["pours"] = pours_to_repeat(
            session=session.pk if session else None, numbers=[pour.pk for pour in pours]
        )
        return attrs


class RepeatRequest(RepeatedPoursRequest):
    """Pours to be planned once more. What is not chosen stays as it was then."""

    name = serializers.CharField(max_length=120)
    planned_on = serializers.DateField()
    choices = serializers.DictField(
        child=serializers.CharField(max_length=40),
        required=False,
        default=dict,
        help_text="By the name of a change, one of its options.",
    )


class RepeatedLineResponse(ResponseSerializer):
    """Pours that were alike: what was poured on each."""

    pours = serializers.SerializerMethodField()
    surface = NamedResponse(source="first.surface")
    technique = NamedResponse(source="first.technique")
    count = serializers.IntegerField()
    poured = QuantityField("first.poured", Measure.VOLUME, help_text="On each, run-off included.")
    colours = NamedResponse(source="volumes", many=True)

    def get_pours(self, line: RepeatedLine) -> list[str]:
        return [pour.label for pour in line.pours]


class OptionResponse(ResponseSerializer):
    """One thing to choose."""

    value = serializers.CharField()
    label = serializers.CharField()  # type: ignore[assignment]


class ChangeResponse(ResponseSerializer):
    """Something that is not as it was. The first option is the default; without any there is nothing to choose."""

    name = serializers.CharField()
    kind = serializers.ChoiceField(choices=[kind.value for kind in ChangeKind])
    subject = serializers.CharField()
    then = serializers.CharField()
    now = serializers.CharField()
    is_gone = serializers.BooleanField(help_text="It cannot be had as it was.")
    options = OptionResponse(many=True)


class KeptVersionResponse(ResponseSerializer):
    """The recipe version that a mix was made by."""

    id = serializers.IntegerField(source="pk")
    recipe = NamedResponse()
    number = serializers.IntegerField()


class ThenAndNowResponse(ResponseSerializer):
    """Pours as they were made, and what has changed since."""

    lines = RepeatedLineResponse(many=True)
    versions = KeptVersionResponse(many=True)
    lots = serializers.ListField(
        child=serializers.CharField(),
        source="lot_labels",
        help_text="Labels of those that can be taken again.",
    )
    changes = ChangeResponse(many=True)
    notes = serializers.ListField(child=serializers.CharField())
    problem = serializers.CharField(help_text="Why it is not known what is missing, in words.")


class ThenAndNowViewSet(StudioViewSet):
    """What has changed since some pours were made?"""

    permission_classes = [IsSignedIn]
    serializer_class = ThenAndNowResponse
    request_serializer_class = RepeatedPoursRequest
    post_status = 200

    def create(self, request: Request) -> Response:
        """What was, and what has changed since. Nothing is written."""
        studio, today = current_studio(request._request), timezone.localdate()
        return self.answer(then_and_now(self.read_body()["pours"], studio=studio, today=today))


class RepeatViewSet(StudioViewSet):
    """Plans made of pours, once more."""

    queryset = Plan.objects.with_lines()
    serializer_class = PlanDetailResponse
    request_serializer_class = RepeatRequest
    has_key = True

    def details_of(self, row: Plan) -> PlanDetails:
        return details_of(row)

    def create(self, request: Request) -> Response:
        """Plan pours once more, as they were made or as chosen. What the plan needs is reserved until it is poured."""

        def act(body: dict[str, Any]) -> Plan:
            return repeat_pours(on=body.pop("planned_on"), submission=self.submission(), **body)

        return self.post_once(act)


VIEWSETS = {"then-and-now": ThenAndNowViewSet, "repeats": RepeatViewSet}
