"""The shopping list for programs: what to buy, from whom and why; added to, ticked, chosen from, ordered."""

from typing import Any

from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from inventory.materials.choices import buyable
from inventory.materials.models import MOST, Material, Supply
from inventory.shopping.actions import (
    Addition,
    add_to_list,
    choose,
    clear_ticked,
    leave_to_the_list,
    order_from_list,
    remove,
    tick,
)
from inventory.shopping.models import LONGEST_TEXT, ShoppingEntry
from inventory.shopping.queries import Line, Packs, Part, ShoppingList, shopping_list
from inventory.shopping.wording import ShoppingWords
from studio.accounts.permissions import SeesMoney
from studio.api.fields import MoneyResponseField, QuantityField, QuantityInput, RowField
from studio.api.serializers import NamedResponse, RequestSerializer, ResponseSerializer
from studio.api.viewsets import ListViewSet, StudioViewSet, idempotency_key
from studio.errors import InputError
from studio.translation import _

MOST_LINES = 500


class ShoppingPacksResponse(ResponseSerializer):
    """So many of one pack."""

    pack = serializers.IntegerField(source="supply.pk")
    pack_size = QuantityField("supply.pack_size", "supply.material.measure")
    packs = serializers.IntegerField(source="count")
    price = MoneyResponseField(source="cost", help_text="Of all of them, in the supplier's currency.")


class ShoppingLineResponse(ResponseSerializer):
    """One thing to buy. Where nobody is listed as selling it, `supplier` is null and `packs` is empty."""

    material = NamedResponse(allow_null=True)
    text = serializers.CharField(help_text="Instead of a material.")
    entry = serializers.IntegerField(
        allow_null=True, help_text="What was said of it by hand, where anything was."
    )
    supplier = NamedResponse(allow_null=True)
    packs = ShoppingPacksResponse(many=True)
    is_needed = serializers.BooleanField(
        help_text="False: due within four weeks, and cheaper in the same order."
    )
    is_ticked = serializers.BooleanField()
    needed_for = serializers.CharField()
    why = serializers.CharField(help_text="Why this pack from this supplier.")


class ShoppingSupplierResponse(ResponseSerializer):
    """What to buy from one supplier now, or best later, in its own currency."""

    supplier = NamedResponse()
    currency = serializers.CharField(source="supplier.currency")
    on = serializers.DateField()
    goods = MoneyResponseField()
    carriage = MoneyResponseField()
    total = MoneyResponseField(source="cost")
    short_of_minimum = MoneyResponseField(help_text="Of its minimum order.")
    home_total = MoneyResponseField(
        allow_null=True, source="total_at_home", help_text="In the studio's currency; null without a rate."
    )
    terms = serializers.ListField(child=serializers.CharField())
    next_best = serializers.CharField(help_text="What it would cost elsewhere, in words.")


class AdditionRequest(RequestSerializer):
    """So much of a material, or anything else in words. It replaces what was added of the same before."""

    material = RowField(buyable(), required=False, allow_null=True, default=None)
    quantity = QuantityInput(required=False)
    text = serializers.CharField(required=False, allow_blank=True, max_length=LONGEST_TEXT, default="")

    def validate(self, attrs: dict[str, Any]) -> Addition:
        material, quantity = attrs["material"], attrs.get("quantity")
        if quantity is None:
            return Addition(material, None, attrs["text"])
        if material is None:
            raise InputError(_("Choose what this is an amount of."), field="material")
        return Addition(material, self.amount_of("quantity", quantity, material), attrs["text"])


class EntryResponse(ResponseSerializer):
    """What was said of one thing on the list."""

    id = serializers.IntegerField(source="pk")
    material = NamedResponse(allow_null=True)
    text = serializers.CharField()
    quantity = QuantityField("quantity", "material.measure", allow_null=True)


class TickRequest(RequestSerializer):
    """A material of the list, or an entry in words, is in the basket or is not."""

    material = RowField(Material.objects.all(), required=False)
    entry = RowField(ShoppingEntry.objects.all(), required=False)
    ticked = serializers.BooleanField()

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        if ("material" in attrs) == ("entry" in attrs):
            raise InputError(_("Name either a material or an entry."), field="material")
        return attrs


class TickResponse(ResponseSerializer):
    """The key that was sent, so that a device knows that its touch has arrived."""

    key = serializers.CharField()
    ticked = serializers.BooleanField()


class ChoiceRequest(RequestSerializer):
    """So many of a pack, whatever is cheapest; without a number the list chooses again."""

    pack = RowField(Supply.objects.select_related("supplier", "material"))
    packs = serializers.IntegerField(min_value=1, max_value=MOST, required=False, allow_null=True)


class RemovalRequest(RequestSerializer):
    """Takes off the list what was added by hand."""

    entry = RowField(ShoppingEntry.objects.all())


class DoneResponse(ResponseSerializer):
    """It is done."""

    done = serializers.BooleanField()


class OrderPacksRequest(RequestSerializer):
    """So many of one pack, as the list has them."""

    pack = RowField(Supply.objects.all())
    packs = serializers.IntegerField(min_value=1, max_value=MOST)

    def validate(self, attrs: dict[str, Any]) -> tuple[int, int]:
        return attrs["pack"].pk, attrs["packs"]


class OrdersRequest(RequestSerializer):
    """Everything of the list that is to be ordered: of each supplier all that is not ticked, as it was read."""

    lines = serializers.ListSerializer[Any](
        child=OrderPacksRequest(), allow_empty=False, max_length=MOST_LINES
    )


class PlacedOrderResponse(ResponseSerializer):
    """One order that was placed."""

    id = serializers.IntegerField(source="pk")
    supplier = NamedResponse()
    expected_on = serializers.DateField(allow_null=True)


class OrdersResponse(ResponseSerializer):
    """One order for each supplier."""

    orders = PlacedOrderResponse(many=True)


class ShoppingViews(StudioViewSet):
    """What the viewsets of the list share."""

    queryset = ShoppingEntry.objects.select_related("material")

    def words(self, listed: ShoppingList) -> ShoppingWords:
        return ShoppingWords(
            listed, self.get_serializer_context()["formatter"], sees_money=self.user.sees_money
        )

    def done(self) -> Response:
        return Response(self.get_serializer({"done": True}).data)


class ShoppingListViewSet(ListViewSet, ShoppingViews):
    """Everything to buy now."""

    serializer_class = ShoppingLineResponse
    detail_serializer_class = EntryResponse
    request_serializer_class = AdditionRequest
    post_status = 200

    def filter_queryset(self, queryset: Any) -> Any:
        """The list of today: lines by supplier, then what nobody sells, then what was added in words."""
        listed = shopping_list(timezone.localdate())
        words = self.words(listed)
        return [
            *(_line(line, words) for line in listed.lines),
            *(_unsold(need, words) for need in listed.unsold),
            *(_in_words(entry) for entry in listed.others),
        ]

    def create(self, request: Request) -> Response:
        """Add to the list."""
        entry = add_to_list(addition=self.read_body(), submission=self.submission())
        return self.answer(entry)


def _line(line: Line, words: ShoppingWords) -> dict[str, Any]:
    return {
        "material": line.material,
        "text": "",
        "entry": line.entry.pk if line.entry else None,
        "supplier": line.supplier,
        "packs": line.packs,
        "is_needed": line.need.is_needed,
        "is_ticked": line.is_ticked,
        "needed_for": words.origin(line.need),
        "why": words.why(line),
    }


def _unsold(need: Any, words: ShoppingWords) -> dict[str, Any]:
    no_packs: list[Packs] = []
    return {
        "material": need.material,
        "text": "",
        "entry": need.entry.pk if need.entry else None,
        "supplier": None,
        "packs": no_packs,
        "is_needed": True,
        "is_ticked": bool(need.entry and need.entry.is_ticked),
        "needed_for": words.origin(need),
        "why": "",
    }


def _in_words(entry: ShoppingEntry) -> dict[str, Any]:
    return {
        "material": None,
        "text": entry.text,
        "entry": entry.pk,
        "supplier": None,
        "packs": [],
        "is_needed": True,
        "is_ticked": entry.is_ticked,
        "needed_for": "",
        "why": "",
    }


class ShoppingSuppliersViewSet(ListViewSet, ShoppingViews):
    """What the list comes to with each supplier: now, then what is best ordered later."""

    serializer_class = ShoppingSupplierResponse

    def filter_queryset(self, queryset: Any) -> Any:
        listed = shopping_list(timezone.localdate())
        words = self.words(listed)
        return [
            *(_part(part, words, words.elsewhere(part)) for part in listed.parts),
            *(_part(part, words, "") for part in listed.later),
        ]


def _part(part: Part, words: ShoppingWords, elsewhere: str) -> dict[str, Any]:
    names = ("supplier", "on", "goods", "carriage", "cost", "short_of_minimum")
    return {
        **{name: getattr(part, name) for name in names},
        "total_at_home": part.home_cost if part.has_rate else None,
        "terms": words.terms(part),
        "next_best": elsewhere,
    }


class ShoppingTicksViewSet(ShoppingViews):
    """What is in the basket."""

    serializer_class = TickResponse
    request_serializer_class = TickRequest
    has_key = True
    post_status = 200

    def create(self, request: Request) -> Response:
        """Tick something, or take its tick back. Sent again it changes nothing."""
        key, body = idempotency_key(request), self.read_body()
        tick(**body, submission=self.submission())
        return Response(self.get_serializer({"key": key, "ticked": body["ticked"]}).data)


class ShoppingChoicesViewSet(ShoppingViews):
    """Which pack to buy of a material."""

    serializer_class = DoneResponse
    permission_classes = [SeesMoney]
    request_serializer_class = ChoiceRequest
    post_status = 200

    def create(self, request: Request) -> Response:
        """Choose a pack, or leave it to the list again. Sent again it changes nothing."""
        body = self.read_body()
        if body.get("packs") is None:
            leave_to_the_list(material=body["pack"].material, submission=self.submission())
        else:
            choose(supply=body["pack"], packs=body["packs"], submission=self.submission())
        return self.done()


class ShoppingRemovalsViewSet(ShoppingViews):
    """What was added by hand and is wanted no more."""

    serializer_class = DoneResponse
    request_serializer_class = RemovalRequest
    post_status = 200

    def create(self, request: Request) -> Response:
        """Take an entry off the list. What is low stays on it."""
        remove(entry=self.read_body()["entry"], submission=self.submission())
        return self.done()


class ShoppingClearingViewSet(ShoppingViews):
    """What is in the basket leaves the list."""

    serializer_class = DoneResponse
    post_status = 200

    @extend_schema(request=None)
    def create(self, request: Request) -> Response:
        """Take everything off that is ticked. What is low by then comes back without its tick."""
        clear_ticked(submission=self.submission())
        return self.done()


class ShoppingOrdersViewSet(ShoppingViews):
    """The list as orders."""

    serializer_class = OrdersResponse
    request_serializer_class = OrdersRequest
    has_key = True

    def create(self, request: Request) -> Response:
        """Order what is named, one order for each supplier: refused when the list says otherwise by now."""
        body, submission = self.read_body(), self.submission()
        orders = order_from_list(packs=body["lines"], submission=submission)
        return Response(self.get_serializer({"orders": orders}).data, status=self.made_status)


VIEWSETS = {
    "shopping-list": ShoppingListViewSet,
    "shopping-suppliers": ShoppingSuppliersViewSet,
    "shopping-ticks": ShoppingTicksViewSet,
    "shopping-choices": ShoppingChoicesViewSet,
    "shopping-removals": ShoppingRemovalsViewSet,
    "shopping-clearing": ShoppingClearingViewSet,
    "shopping-orders": ShoppingOrdersViewSet,
}
