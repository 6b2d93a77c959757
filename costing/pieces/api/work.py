"""What is done with one piece besides its states, for programs: worked on, packed, given away, split again."""

from collections.abc import Callable
from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from costing.pieces.actions.pieces import WorkFacts, add_labour, finish_piece, pack_piece, split_piece
from costing.pieces.forms.pieces import MOST_MINUTES, MOST_ROWS
from costing.pieces.models import Piece
from costing.selling.actions import give_away
from costing.selling.actions.disposals import GIVING
from inventory.ledger.models import Reason
from inventory.recipes.api.mixes import IngredientRequest
from studio.accounts.permissions import SeesMoney
from studio.api.fields import MoneyField, RowField
from studio.api.rows import deletion
from studio.api.schema import IF_MATCH
from studio.api.serializers import ListOf, RequestSerializer
from studio.api.viewsets import StudioViewSet, change_seen, row_action


class PieceWorkRequest(RequestSerializer):
    """Materials and minutes that went into a piece after its session."""

    on = serializers.DateField()
    materials = ListOf(child=IngredientRequest(), required=False, default=list, max_length=MOST_ROWS)
    minutes = serializers.IntegerField(required=False, default=0, min_value=0, max_value=MOST_MINUTES)
    note = serializers.CharField(required=False, max_length=200, allow_blank=True, default="")
    confirm_gain = serializers.BooleanField(
        default=False, help_text="There was more in the bottles than recorded: the difference is added first."
    )


class PieceFinishRequest(PieceWorkRequest):
    """As packing; `anyway` finishes a piece before its drying time is over."""

    anyway = serializers.BooleanField(default=False)


class MinutesRequest(RequestSerializer):
    """Minutes worked on a piece."""

    on = serializers.DateField()
    work = serializers.CharField(max_length=60, help_text="What was done.")
    minutes = serializers.IntegerField(min_value=1, max_value=MOST_MINUTES)


class GivingRequest(RequestSerializer):
    """A gift, a sample or own use. Market value stands beside cost: not tax or legal advice."""

    on = serializers.DateField()
    reason = RowField(Reason.objects.filter(kind__in=list(GIVING)))
    market_value = MoneyField()
    note = serializers.CharField(required=False, max_length=200, allow_blank=True, default="")


class PieceWork(StudioViewSet):
    """Actions on one piece; each answers with the piece."""

    @row_action(has_key=True, request_serializer_class=PieceFinishRequest)
    def finish(self, request: Request, pk: int) -> Response:
        """Varnish a dry piece and fit its hardware, or add a further coat."""
        return self._work(finish_piece)

    @row_action(has_key=True, request_serializer_class=PieceWorkRequest)
    def pack(self, request: Request, pk: int) -> Response:
        """Charge packing to an unsold piece."""
        return self._work(pack_piece)

    def _work(self, act: Callable[..., Piece]) -> Response:
        piece = self.get_object()

        def work(body: dict[str, Any]) -> Piece:
            facts = WorkFacts(body.pop("materials"), minutes=body.pop("minutes"), note=body.pop("note"))
            submission = self.submission(on=body.pop("on"))
            return act(piece=piece, facts=facts, submission=submission, **body)

        return self.post_once(work)

    @row_action(has_key=True, request_serializer_class=MinutesRequest)
    def minutes(self, request: Request, pk: int) -> Response:
        """Add minutes worked on a piece after its session."""
        piece = self.get_object()
        return self.post_once(
            lambda body: (
                add_labour(piece=piece, submission=self.submission(on=body.pop("on")), **body) and piece
            )
        )

    @row_action(permission_classes=[SeesMoney], has_key=True, request_serializer_class=GivingRequest)
    def give(self, request: Request, pk: int) -> Response:
        """Give a piece away, or keep it."""
        piece = self.get_object()
        return self.post_once(
            lambda body: give_away(piece=piece, submission=self.submission(on=body.pop("on")), **body)
        )

    @extend_schema(request=None, parameters=[IF_MATCH])
    @deletion()
    def split(self, request: Request, pk: int) -> Response:
        """Make pours of a piece again. Sent again there is none."""
        split_piece(piece=self.get_object(), seen=change_seen(request), submission=self.submission())
        return self.deleted()
