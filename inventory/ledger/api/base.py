"""What the addresses of the shelf share."""

from datetime import date
from typing import Any

from django.db.models import QuerySet
from django.utils import timezone
from rest_framework import serializers

from inventory.errors import CannotReverse, ClosedPeriod, NotEnough, ShelfShortfall
from inventory.ledger.models import Posting
from studio.api.fields import Amount, MoneyAmount, ResponseSerializer
from studio.api.views import ApiView, QuerySerializer
from studio.errors import MeniscusError
from studio.submission import Submission

LONGEST_NOTES = 5_000
MOST_LINES = 100


class Named(ResponseSerializer):
    """A row that other rows point to."""

    id = serializers.IntegerField(source="pk")
    name = serializers.CharField()


class MoveResponse(ResponseSerializer):
    """One move as seen from one of its two places."""

    posting = serializers.IntegerField(source="posting.number")
    on = serializers.DateField(source="posting.effective_on")
    kind = serializers.CharField(source="posting.kind")
    line = serializers.IntegerField()
    material = Named()
    quantity = Amount("quantity", "material.measure")
    money = MoneyAmount()
    role = serializers.CharField()
    here = serializers.CharField(source="account_name")
    there = serializers.CharField(source="counterpart_name")
    is_reversed = serializers.BooleanField()


class ShortfallResponse(ResponseSerializer):
    """One material the shelf holds too little of."""

    material = serializers.IntegerField()
    name = serializers.CharField()
    needed = Amount("needed", "measure")
    held = Amount("held", "measure")
    short = Amount("short", "measure")


class Days(QuerySerializer):
    """From one day to another, both included."""

    first = serializers.DateField(required=False)
    last = serializers.DateField(required=False)


def between(found: QuerySet[Any], column: str, asked: dict[str, Any]) -> QuerySet[Any]:
    """Rows dated within the days asked for."""
    if asked.get("first"):
        found = found.filter(**{f"{column}__gte": asked["first"]})
    if asked.get("last"):
        found = found.filter(**{f"{column}__lte": asked["last"]})
    return found


class ShelfView(ApiView):
    """An address of the shelf: shortfalls are listed, and whatever it posts answers to an idempotency key."""

    conflicts: tuple[type[MeniscusError], ...] = (NotEnough, ClosedPeriod, CannotReverse)

    def particulars(self, error: MeniscusError) -> dict[str, Any]:
        if not isinstance(error, NotEnough):
            return {}
        shortfalls: list[ShelfShortfall] = error.shortfalls
        return {"shortfalls": ShortfallResponse(shortfalls, many=True, context=self.context).data}

    def status_for(self, key: str) -> int:
        """201 for a new request, 200 for one whose posting is in the ledger already. Ask before writing."""
        return 200 if Posting.objects.filter(recorded_by=self.person, key=key).exists() else 201

    def submission(self, *, on: date | None = None, key: str = "") -> Submission:
        """By the person whose token it is, now, about `on` or else today."""
        return Submission(by=self.person, at=timezone.now(), on=on or timezone.localdate(), key=key)
