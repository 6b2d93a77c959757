"""Failed pours thrown away, for programs."""

from typing import Any

from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from inventory.ledger.api import PostingDetailViewSet
from inventory.ledger.models import Reason
from inventory.sessions.actions.throwing_away import ThrowAwayFacts, throw_away
from inventory.sessions.models import Pour
from studio.api.fields import RowField
from studio.api.serializers import RequestSerializer

MOST_POURS = 100


class PourWriteOffRequest(RequestSerializer):
    """Failed pours, thrown away. Without a reason it is a normal loss, which the good pours of their session carry."""

    pours = serializers.ListField(
        child=RowField(Pour.objects.all()), allow_empty=False, min_length=1, max_length=MOST_POURS
    )
    reason = RowField(
        Reason.objects.filter(kind=Reason.Kind.LOSS),
        required=False,
        allow_null=True,
        default=None,
        help_text="For an abnormal loss: a reason of the kind “loss”.",
    )
    on = serializers.DateField()
    note = serializers.CharField(required=False, max_length=300, allow_blank=True, default="")

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        return {"on": attrs.pop("on"), "facts": ThrowAwayFacts(**attrs)}


class PourWriteOffViewSet(PostingDetailViewSet):
    """Failed pours thrown away; they are read back among the postings, and reversed there."""

    request_serializer_class = PourWriteOffRequest
    has_key = True

    def create(self, request: Request) -> Response:
        """Throw failed pours away."""
        return self.post_once(
            lambda body: throw_away(facts=body["facts"], submission=self.submission(on=body["on"]))
        )
