"""Mixes: batches made by a recipe, by themselves or in a session."""

from typing import Any

from django.shortcuts import get_object_or_404
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from inventory.ledger.api.base import Days, Named, ShelfView, between
from inventory.materials.models import Material
from inventory.recipes.actions.mixes import Ingredient, MixFacts, make_mix, planned
from inventory.recipes.models import Mix, Recipe, RecipeVersion
from inventory.stock.api.lots import ChosenLot, refuse_other_lot
from studio.api.fields import (
    Amount,
    DecimalText,
    QuantityRequest,
    QuantityText,
    ResponseSerializer,
    RowNumber,
    WholeNumber,
)
from studio.api.views import KEY_HEADER, REFUSED, REFUSED_TO_WRITE
from studio.errors import MeniscusError
from studio.translation import _

MOST_INGREDIENTS = 40


class IngredientRequest(QuantityRequest):
    """So much of one material, from one lot if it was chosen."""

    material = RowNumber(Material.objects.all())
    quantity = QuantityText()
    lot = ChosenLot(required=False)

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        lot = refuse_other_lot(attrs.get("lot"), attrs["material"])
        amount = self.amount_of("quantity", attrs["quantity"], attrs["material"])
        return {"used": Ingredient(attrs["material"], amount, lot)}


class MixRequest(QuantityRequest):
    """A batch: either so much of the recipe (`wanted`), or what really went in (`ingredients`)."""

    recipe = RowNumber(Recipe.objects.select_related("makes"))
    version = WholeNumber(least=1, most=10_000, required=False, help_text="Default: the newest.")
    wanted = QuantityText(required=False)
    ingredients = serializers.ListSerializer[Any](
        child=IngredientRequest(), required=False, allow_empty=False, max_length=MOST_INGREDIENTS
    )
    measured = QuantityText(required=False, help_text="Total, if measured.")
    use_by = serializers.DateField(required=False)
    place = serializers.CharField(required=False, max_length=60, allow_blank=True, default="")
    consistency = serializers.CharField(required=False, max_length=120, allow_blank=True, default="")

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        if ("wanted" in attrs) == ("ingredients" in attrs):
            raise serializers.ValidationError(_("Enter either how much is wanted, or what went in."))
        version = self._version(attrs)
        attrs["facts"] = MixFacts(
            version=version,
            ingredients=self._ingredients(attrs, version),
            leftover=attrs.get("leftover", Mix.Leftover.KEPT),
            measured=self._amount(attrs, "measured"),
            use_by=attrs.get("use_by"),
            place=attrs["place"],
            consistency=attrs["consistency"],
        )
        return attrs

    def _version(self, said: dict[str, Any]) -> RecipeVersion:
        found = said["recipe"].versions.select_related("recipe__makes").prefetch_related("parts__material")
        if "version" in said:
            found = found.filter(number=said["version"])
        version: RecipeVersion | None = found.order_by("-number").first()
        if version is None:
            raise serializers.ValidationError({"version": [_("This recipe has no such version.")]})
        return version

    def _amount(self, said: dict[str, Any], field: str) -> int | None:
        return self.amount_of(field, said[field], said["recipe"].makes) if field in said else None

    def _ingredients(self, said: dict[str, Any], version: RecipeVersion) -> list[Ingredient]:
        wanted = self._amount(said, "wanted")
        if wanted is None:
            return [item["used"] for item in said["ingredients"]]
        try:
            return [item for item in planned(version, wanted) if item.quantity]
        except MeniscusError as problem:
            raise serializers.ValidationError({"wanted": [str(problem)]}) from None


class BatchRequest(MixRequest):
    """A batch mixed outside a session."""

    on = serializers.DateField()
    confirm_gain = serializers.BooleanField(
        default=False, help_text="There was more in the bottles than recorded: the difference is added first."
    )


class MixResponse(ResponseSerializer):
    """One mix and the lot it became."""

    id = serializers.IntegerField(source="pk")
    recipe = Named(source="version.recipe")
    version = serializers.IntegerField(source="version.number")
    session = serializers.IntegerField(source="session_id", allow_null=True)
    mixed_on = serializers.DateField()
    lot = serializers.IntegerField(source="lot_id")
    label = serializers.CharField(source="lot.label")  # type: ignore[assignment]
    leftover = serializers.ChoiceField(choices=Mix.Leftover.choices)
    water_share = DecimalText(help_text="Share of added water, as a fraction of one.")
    consistency = serializers.CharField()
    left = Amount("lot.balance.quantity", "lot.material.measure", help_text="In stock today.")
    posting = serializers.IntegerField(source="posting_id")
    is_reversed = serializers.SerializerMethodField()

    def get_is_reversed(self, mix: Mix) -> bool:
        return hasattr(mix.posting, "reversed_by")


class MixList(ShelfView):
    query = Days
    is_list = True

    @extend_schema(
        operation_id="mixes_list", parameters=[Days], responses={200: MixResponse(many=True), **REFUSED}
    )
    def get(self, request: Request) -> Response:
        """Mixes, newest first."""
        return self.paged(MixResponse, between(mixes(), "mixed_on", self.asked))

    @extend_schema(
        operation_id="mixes_make",
        parameters=[KEY_HEADER],
        request=BatchRequest,
        responses={201: MixResponse, 200: MixResponse, **REFUSED_TO_WRITE},
    )
    def post(self, request: Request) -> Response:
        """Mix a batch ahead of a session."""
        key, said = self.key, self.said(BatchRequest)
        status = self.status_for(key)
        made = make_mix(
            facts=said["facts"],
            submission=self.submission(on=said["on"], key=key),
            confirm_gain=said["confirm_gain"],
        )
        return self.one(MixResponse, mixes().get(pk=made.pk), status=status)


class MixDetail(ShelfView):
    @extend_schema(operation_id="mixes_read", responses={200: MixResponse, **REFUSED})
    def get(self, request: Request, pk: int) -> Response:
        """One mix."""
        return self.one(MixResponse, get_object_or_404(mixes(), pk=pk))


def mixes() -> Any:
    """Mixes with everything their shape shows."""
    return Mix.objects.select_related(
        "version__recipe", "lot__material", "lot__balance", "posting__reversed_by"
    )
