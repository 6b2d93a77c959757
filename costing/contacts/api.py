"""Buyers and galleries for programs of people who may write; only owners take out or erase what is kept of one."""

from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from costing.contacts.actions import erase_contact
from costing.contacts.filters import ContactFilter
from costing.contacts.models import Contact
from costing.contacts.queries import dealings_with
from inventory.ledger.adding import add_once
from studio.accounts.permissions import IsOwner, WritersOnly
from studio.api.fields import MoneyResponseField
from studio.api.schema import ENTITY_TAG, IF_MATCH
from studio.api.serializers import RequestSerializer, ResponseSerializer
from studio.api.viewsets import ReadViewSet, change_seen, row_action
from studio.auditing.reference_rows import save_row


class ContactRequest(RequestSerializer):
    """Who it is and how to reach them."""

    name = serializers.CharField(max_length=80)
    reach = serializers.CharField(required=False, allow_blank=True, max_length=300, default="")
    note = serializers.CharField(required=False, allow_blank=True, max_length=1000, default="")


class ContactResponse(ResponseSerializer):
    """A buyer or a gallery."""

    id = serializers.IntegerField(source="pk")
    name = serializers.CharField()
    reach = serializers.CharField(help_text="An email address, a telephone number, a postal address.")
    note = serializers.CharField()


class DealingResponse(ResponseSerializer):
    """A piece that was reserved, lent, bought or ordered."""

    what = serializers.CharField()
    piece = serializers.IntegerField(source="piece.pk", allow_null=True, default=None)
    title = serializers.CharField(help_text="Of the piece; of one that is ordered, what is wanted.")
    on = serializers.DateField()
    until = serializers.DateField(allow_null=True)
    price = MoneyResponseField(allow_null=True)
    note = serializers.CharField()


class ContactDetailResponse(ContactResponse):
    """Everything that is kept of a contact."""

    dealings = DealingResponse(many=True)


class ErasedResponse(ResponseSerializer):
    """The contact is gone."""

    erased = serializers.BooleanField()


class ContactViewSet(ReadViewSet):
    """Buyers and galleries by name."""

    permission_classes = [WritersOnly]
    queryset = Contact.objects.all()
    serializer_class = ContactResponse
    detail_serializer_class = ContactDetailResponse
    request_serializer_class = ContactRequest
    filterset_class = ContactFilter
    has_key = True

    def details_of(self, row: Any) -> Any:
        row.dealings = dealings_with(row)
        return row

    def create(self, request: Request) -> Response:
        """Add a contact."""
        return self.post_once(lambda body: add_once(Contact(**body), submission=self.submission()))

    @extend_schema(parameters=[ENTITY_TAG])
    def retrieve(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        """One contact with everything that is kept of it, and an `ETag` for whoever changes it."""
        return self.tagged()

    @extend_schema(parameters=[ENTITY_TAG, IF_MATCH])
    @row_action(has_key=False)
    def change(self, request: Request, pk: int) -> Response:
        """Write a contact anew, all of it. Sent again it changes nothing."""
        row = self.get_object()
        for name, value in self.read_body().items():
            setattr(row, name, value)
        save_row(row, submission=self.submission(), seen=change_seen(request))
        return self.tagged()

    @row_action(
        has_key=False,
        permission_classes=[IsOwner],
        request_serializer_class=RequestSerializer,
        detail_serializer_class=ErasedResponse,
    )
    def erase(self, request: Request, pk: int) -> Response:
        """Erase a contact for good; the books stay as they are. Only owners may."""
        self.read_body()
        erase_contact(contact=self.get_object(), submission=self.submission())
        return Response(self.get_serializer({"erased": True}).data)


VIEWSETS = {"contacts": ContactViewSet}
