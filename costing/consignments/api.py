"""Consignment notes for programs: given, settled, returned."""

from typing import Any

from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from costing.consignments.actions import ConsignmentFacts, Priced, consign, settle, take_back
from costing.consignments.filters import ConsignmentFilter
from costing.consignments.models import Consignment
from costing.consignments.queries import Fate, notes, state_of, states_of
from costing.locations.models import Location, LocationKind
from costing.pieces.models import Piece
from studio.accounts.permissions import IsWorker, SeesMoney
from studio.api.fields import MoneyField, MoneyResponseField, RowField
from studio.api.serializers import ListOf, NamedResponse, RequestSerializer, ResponseSerializer
from studio.api.viewsets import ReadViewSet, row_action

MOST_PIECES = 500


class PricedRequest(RequestSerializer):
    """A piece and its price, tax included."""

    piece = RowField(Piece.objects.all())
    price = MoneyField()

    def validate(self, attrs: dict[str, Any]) -> Priced:
        return Priced(**attrs)


class ConsignmentRequest(RequestSerializer):
    """Pieces given to a gallery, at what is to be asked for each."""

    gallery = RowField(Location.objects.filter(kind=LocationKind.GALLERY))
    pieces = ListOf(child=PricedRequest(), allow_empty=False, max_length=MOST_PIECES)
    on = serializers.DateField()
    until = serializers.DateField(required=False, allow_null=True, default=None)
    note = serializers.CharField(required=False, allow_blank=True, max_length=1000, default="")


class ConsignmentSalesRequest(RequestSerializer):
    """What the gallery has sold, at the prices that buyers paid."""

    pieces = ListOf(child=PricedRequest(), allow_empty=False, max_length=MOST_PIECES)
    on = serializers.DateField()


class ConsignmentReturnsRequest(RequestSerializer):
    """What came back to the studio."""

    pieces = ListOf(child=RowField(Piece.objects.all()), allow_empty=False, max_length=MOST_PIECES)
    on = serializers.DateField()
    note = serializers.CharField(required=False, allow_blank=True, max_length=200, default="")


class ConsignedPieceResponse(ResponseSerializer):
    """A piece of a note, and what became of it."""

    piece = serializers.IntegerField(source="piece.pk")
    title = serializers.CharField(source="piece.title")
    status = serializers.ChoiceField(choices=[fate.value for fate in Fate], source="fate")
    left_on = serializers.DateField(allow_null=True)
    price = MoneyResponseField(source="line.price", help_text="Asking price, tax included.")
    sale = serializers.IntegerField(source="sale.sale_id", allow_null=True, default=None)


class ConsignmentResponse(ResponseSerializer):
    """A note and its pieces."""

    id = serializers.IntegerField(source="note.pk")
    number = serializers.IntegerField(source="note.number")
    gallery = NamedResponse(source="note.gallery")
    on = serializers.DateField(source="note.on")
    until = serializers.DateField(source="note.until", allow_null=True)
    note = serializers.CharField(source="note.note")
    is_settled = serializers.BooleanField()
    value = MoneyResponseField(help_text="What is asked for the pieces that are still there.")
    net_proceeds = MoneyResponseField(help_text="Of the gallery's sales, after tax and commission.")
    pieces = ConsignedPieceResponse(many=True, source="lines")


class ConsignmentViewSet(ReadViewSet):
    """Consignment notes, the latest first."""

    permission_classes = [SeesMoney]
    queryset = notes()
    serializer_class = ConsignmentResponse
    request_serializer_class = ConsignmentRequest
    filterset_class = ConsignmentFilter
    has_key = True

    def paginate_queryset(self, queryset: Any) -> Any:
        return states_of(super().paginate_queryset(queryset) or [])

    def details_of(self, row: Consignment) -> Any:
        return state_of(row)

    def create(self, request: Request) -> Response:
        """Give pieces to a gallery. They stay the studio's until they are sold."""

        def act(body: Any) -> Consignment:
            facts = ConsignmentFacts(body["gallery"], body["pieces"], body["until"], body["note"])
            return consign(facts=facts, submission=self.submission(on=body["on"]))

        return self.post_once(act)

    @row_action(request_serializer_class=ConsignmentSalesRequest)
    def sales(self, request: Request, pk: int) -> Response:
        """Record what the gallery sold as one sale, at its terms of that day."""
        note, body = self.get_object(), self.read_body()
        settle(consignment=note, sold=body["pieces"], submission=self.submission(on=body["on"]))
        return self.answer(note)

    @row_action(permission_classes=[IsWorker], request_serializer_class=ConsignmentReturnsRequest)
    def returns(self, request: Request, pk: int) -> Response:
        """Record what came back to the studio."""
        note, body = self.get_object(), self.read_body()
        take_back(
            consignment=note,
            pieces=body["pieces"],
            note=body["note"],
            submission=self.submission(on=body["on"]),
        )
        return self.answer(note)


VIEWSETS = {"consignments": ConsignmentViewSet}
