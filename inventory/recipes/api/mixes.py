"""Mixes for programs."""

from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from inventory.ledger.api import ConfirmedField
from inventory.materials.models import Material
from inventory.recipes.actions.batches import make_mix
from inventory.recipes.actions.mixes import Ingredient, MixFacts, planned
from inventory.recipes.filters import MixFilter
from inventory.recipes.models import Mix, Recipe, RecipeVersion
from inventory.recipes.off_recipe import READ_ALONG, off_recipe
from inventory.recipes.queries import version_of
from inventory.stock.api.lots import ChosenLotField, number_of
from studio.api.fields import MillionthsField, QuantityField, QuantityInput, ReversedField, RowField
from studio.api.serializers import AskingRequest, ListOf, NamedResponse, RequestSerializer, ResponseSerializer
from studio.api.viewsets import ReadViewSet
from studio.preferences.context import current_studio
from studio.translation import _

MOST_INGREDIENTS = 100


class IngredientRequest(RequestSerializer):
    """So much of one material, from one lot if it was chosen."""

    material = RowField(Material.objects.all())
    quantity = QuantityInput()
    lot = ChosenLotField(required=False)

    def validate(self, attrs: dict[str, Any]) -> Any:
        lot = number_of(attrs.get("lot"), attrs["material"])
        amount = self.amount_of("quantity", attrs["quantity"], attrs["material"])
        typed = attrs["quantity"]
        estimate = self.formatter.estimate_in(typed) if isinstance(typed, str) else ""
        return Ingredient(attrs["material"], amount, lot, estimate)


class MixRequest(RequestSerializer):
    """A batch: either so much of the recipe (`wanted`), or what really went in (`ingredients`)."""

    recipe = RowField(Recipe.objects.select_related("makes"))
    version = serializers.IntegerField(
        min_value=1, max_value=10_000, required=False, help_text="Default: the newest."
    )
    wanted = QuantityInput(required=False)
    ingredients = ListOf(
        child=IngredientRequest(), required=False, allow_empty=False, max_length=MOST_INGREDIENTS
    )
    added = ListOf(
        child=IngredientRequest(),
        required=False,
        default=list,
        max_length=MOST_INGREDIENTS,
        help_text="Added to this batch only, on top of the recipe's parts: a dash of another paint.",
    )
    measured = QuantityInput(
        required=False,
        help_text="Total, if measured. More than the parts give needs to be confirmed, as far as densities are known.",
    )
    use_by = serializers.DateField(required=False)
    place = serializers.CharField(required=False, max_length=60, allow_blank=True, default="")
    consistency = serializers.CharField(required=False, max_length=120, allow_blank=True, default="")

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        if ("wanted" in attrs) == ("ingredients" in attrs):
            raise serializers.ValidationError(_("Enter either how much is wanted, or what went in."))
        version = version_of(attrs["recipe"], attrs.get("version"))
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

    def _amount(self, attrs: dict[str, Any], field: str) -> int | None:
        return self.amount_of(field, attrs[field], attrs["recipe"].makes) if field in attrs else None

    def _ingredients(self, attrs: dict[str, Any], version: RecipeVersion) -> list[Ingredient]:
        wanted = self._amount(attrs, "wanted")
        parts = attrs["ingredients"] if wanted is None else planned(version, wanted)
        return [*(item for item in parts if wanted is None or item.quantity), *attrs["added"]]


class BatchRequest(AskingRequest, MixRequest):
    """A batch mixed outside a session."""

    on = serializers.DateField()
    confirm_gain = serializers.BooleanField(
        default=False, help_text="There was more in the bottles than recorded: the difference is added first."
    )


class EstimateResponse(serializers.Serializer[Any]):
    """An amount that was judged by eye, such as "3 drops"."""

    material = serializers.IntegerField()
    typed = serializers.CharField()


class OffRecipeResponse(ResponseSerializer):
    """The proportions in which it was mixed, and those of its recipe, both in the order of its parts: "3 : 1"."""

    mixed = serializers.CharField()
    recipe = serializers.CharField()


class MixResponse(ResponseSerializer):
    """One mix and the lot it became."""

    id = serializers.IntegerField(source="pk")
    recipe = NamedResponse(source="version.recipe")
    version = serializers.IntegerField(source="version.number")
    session = serializers.IntegerField(source="session_id", allow_null=True)
    mixed_on = serializers.DateField()
    lot = serializers.IntegerField(source="lot_id")
    label = serializers.CharField(source="lot.label")  # type: ignore[assignment]
    leftover = serializers.ChoiceField(choices=Mix.Leftover.choices)
    water_share = MillionthsField(help_text="Share of added water, as a fraction of one.")
    consistency = serializers.CharField()
    viscosity = serializers.IntegerField(
        allow_null=True, help_text="Kinematic, in mm²/s, where convertible flow-cup seconds were noted."
    )
    estimates = serializers.SerializerMethodField(help_text="What was judged by eye, as it was typed.")
    off_recipe = serializers.SerializerMethodField(
        help_text="Null for a mix that is as its recipe says, as far as the scale or measuring cup can tell."
    )
    left = QuantityField("lot.balance.quantity", "lot.material.measure", help_text="In stock today.")
    posting = serializers.IntegerField(source="posting_id")
    confirmed = ConfirmedField(source="posting")
    is_reversed = ReversedField(source="posting")

    @extend_schema_field(EstimateResponse(many=True))
    def get_estimates(self, mix: Mix) -> list[dict[str, Any]]:
        return [
            {"material": int(material), "typed": kept["typed"]} for material, kept in mix.estimates.items()
        ]

    @extend_schema_field(OffRecipeResponse(allow_null=True))
    def get_off_recipe(self, mix: Mix) -> dict[str, Any] | None:
        found = off_recipe(mix, current_studio(self.context["request"]._request))
        return {"mixed": found.mixed, "recipe": found.recipe} if found else None


class MixViewSet(ReadViewSet):
    """Mixes, newest first."""

    queryset = (
        Mix.objects.select_related("version__recipe", "lot__material", "lot__balance", "posting__reversed_by")
        .prefetch_related(*READ_ALONG)
        .order_by("-mixed_on", "-pk")
    )
    serializer_class = MixResponse
    request_serializer_class = BatchRequest
    filterset_class = MixFilter
    has_key = True

    def create(self, request: Request) -> Response:
        """Mix a batch ahead of a session."""
        return self.post_once(
            lambda body: make_mix(
                facts=body["facts"],
                confirm_gain=body["confirm_gain"],
                submission=self.submission(on=body["on"]),
            )
        )


VIEWSETS = {"mixes": MixViewSet}
