"""Locations, moves, loans and reservations for programs. Contacts are named only to those who may write."""

from typing import Any

from django.utils.translation import gettext_lazy
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from costing.contacts.models import Contact
from costing.locations.actions import Person, lend_piece, move_pieces, reserve_piece
from costing.locations.filters import PlacementFilter
from costing.locations.models import Location, LocationKind, Placement, Reservation
from costing.locations.queries import Held, held_by_place, pieces_at
from costing.locations.wording import held_name
from costing.pieces.models import Piece
from costing.pieces.queries import with_parts
from costing.pricing.models import SalesChannel
from inventory.ledger.adding import add_once
from studio.accounts.permissions import IsWorker, WritersOnly
from studio.api.fields import MoneyResponseField, RowField
from studio.api.rows import RowRequest, RowsViewSet
from studio.api.serializers import AskingRequest, ListOf, NamedResponse, RequestSerializer, ResponseSerializer
from studio.api.viewsets import ListViewSet

MOST_PIECES = 500


class LocationRequest(RowRequest):
    """A location. A gallery names its sales channel."""

    channel = RowField(SalesChannel.objects.all(), required=False, allow_null=True)
    contact = RowField(Contact.objects.all(), required=False, allow_null=True)

    class Meta:
        model = Location
        fields = ("name", "kind", "channel", "contact", "is_active")


class HeldResponse(ResponseSerializer):
    """A place and what it holds: a location; or, without an `id`, the studio or what is lent."""

    id = serializers.IntegerField(source="location.pk", default=None, allow_null=True)
    name = serializers.SerializerMethodField()
    kind = serializers.CharField(help_text="gallery, box, studio or lent.")
    pieces = serializers.IntegerField(source="count")
    value = MoneyResponseField(help_text="At asking prices, of those that have one.")

    def get_name(self, held: Held) -> str:
        return held_name(held)


class LocationResponse(ResponseSerializer):
    """One location, and the numbers of the pieces that are there now."""

    id = serializers.IntegerField(source="pk")
    name = serializers.CharField()
    kind = serializers.ChoiceField(choices=LocationKind.choices)
    channel = NamedResponse(allow_null=True)
    is_active = serializers.BooleanField()
    pieces = serializers.ListField(child=serializers.IntegerField(), source="held")


class LocationViewSet(RowsViewSet, ListViewSet):
    """The studio, every location, and what is lent."""

    queryset = Location.objects.select_related("channel")
    serializer_class = HeldResponse
    detail_serializer_class = LocationResponse
    request_serializer_class = LocationRequest
    row_model = Location
    row_permissions = (IsWorker,)
    has_key = True
    in_use = gettext_lazy(
        "Only a location where no piece has been can be deleted; any other can be deactivated."
    )

    def create(self, request: Request) -> Response:
        """Add a location."""
        return self.post_once(lambda body: add_once(Location(**body), submission=self.submission()))

    def filter_queryset(self, queryset: Any) -> Any:
        return held_by_place() if self.action == "list" else queryset

    def details_of(self, row: Any) -> Any:
        row.held = list(pieces_at(row).values_list("pk", flat=True))
        return row


class MoveRequest(RequestSerializer):
    """Pieces that go to a location, or with null back to the studio."""

    pieces = ListOf(
        child=RowField(with_parts(Piece.objects.all())), allow_empty=False, max_length=MOST_PIECES
    )
    to = RowField(Location.objects.all(), allow_null=True)
    on = serializers.DateField()
    note = serializers.CharField(required=False, max_length=200, allow_blank=True, default="")


class PersonRequest(AskingRequest):
    """A contact, or the name of a new one; and until when."""

    piece = RowField(Piece.objects.all())
    contact = RowField(Contact.objects.all(), required=False, default=None)
    new_name = serializers.CharField(required=False, max_length=80, allow_blank=True, default="")
    until = serializers.DateField(required=False, allow_null=True, default=None)
    on = serializers.DateField()
    note = serializers.CharField(required=False, max_length=200, allow_blank=True, default="")

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        attrs["to"] = Person(attrs.pop("contact"), attrs.pop("new_name"))
        return attrs


class PlacementResponse(ResponseSerializer):
    """Where a piece was taken: a location, or without one back to the studio, or lent."""

    id = serializers.IntegerField(source="pk")
    piece = serializers.IntegerField(source="piece_id")
    location = NamedResponse(allow_null=True)
    is_lent = serializers.BooleanField()
    on = serializers.DateField()
    until = serializers.DateField(allow_null=True)
    note = serializers.CharField()


class MovedResponse(ResponseSerializer):
    """The pieces that were moved; those that were there already are left out."""

    placements = PlacementResponse(many=True)


class PlacementViewSet(ListViewSet):
    """Where pieces were taken, the latest first."""

    queryset = Placement.objects.select_related("location").order_by("-pk")
    serializer_class = PlacementResponse
    request_serializer_class = MoveRequest
    filterset_class = PlacementFilter
    has_key = True

    def get_serializer_class(self) -> Any:
        return MovedResponse if self.action == "create" else super().get_serializer_class()

    def create(self, request: Request) -> Response:
        """Move pieces, all of them or none."""
        body = self.read_body()
        submission = self.submission(on=body.pop("on"))
        placements = move_pieces(**body, submission=submission)
        answer = self.get_serializer({"placements": placements})
        return Response(answer.data, status=self.made_status)


class LoanResponse(PlacementResponse):
    """A piece that is lent, and to whom."""

    contact = serializers.IntegerField(source="contact_id", allow_null=True)


class LoanViewSet(ListViewSet):
    """Pieces that are or were lent, the latest first."""

    permission_classes = [WritersOnly]
    queryset = Placement.objects.filter(is_lent=True).select_related("location").order_by("-pk")
    serializer_class = LoanResponse
    request_serializer_class = PersonRequest
    has_key = True

    def create(self, request: Request) -> Response:
        """Lend a piece. Moving it back to the studio ends the loan."""
        return self.post_once(lambda body: lend_piece(submission=self.submission(on=body.pop("on")), **body))


class ReservationResponse(ResponseSerializer):
    """For whom a piece was reserved, and until when."""

    id = serializers.IntegerField(source="pk")
    piece = serializers.IntegerField(source="step.piece_id")
    contact = serializers.IntegerField(source="contact_id", allow_null=True)
    on = serializers.DateField(source="step.on")
    until = serializers.DateField(allow_null=True)
    note = serializers.CharField()


class ReservationViewSet(ListViewSet):
    """Reservations, the latest first. One ends when its piece is sold, or its status is changed."""

    permission_classes = [WritersOnly]
    queryset = Reservation.objects.select_related("step").order_by("-pk")
    serializer_class = ReservationResponse
    request_serializer_class = PersonRequest
    has_key = True

    def create(self, request: Request) -> Response:
        """Reserve a piece, or say anew for whom and until when."""
        return self.post_once(
            lambda body: reserve_piece(submission=self.submission(on=body.pop("on")), **body)
        )


VIEWSETS = {
    "locations": LocationViewSet,
    "placements": PlacementViewSet,
    "loans": LoanViewSet,
    "reservations": ReservationViewSet,
}
