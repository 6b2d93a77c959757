"""Recipes and mixes for programs."""

from decimal import Decimal
from typing import Any

from django.db.models import Prefetch
from drf_spectacular.utils import extend_schema, extend_schema_field
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from inventory.ledger.api import ConfirmedField
from inventory.materials.models import Kind, Material
from inventory.recipes.actions.batches import make_mix
from inventory.recipes.actions.mixes import Ingredient, MixFacts, planned
from inventory.recipes.actions.ratios import keep_among_written, set_favourite
from inventory.recipes.actions.recipes import write_recipe, write_version
from inventory.recipes.filters import MixFilter, RecipeFilter
from inventory.recipes.forms.recipes import MADE_KINDS
from inventory.recipes.models import PARTS, Basis, Mix, Recipe, RecipePart, RecipeVersion
from inventory.recipes.queries import cost_per_100ml, versions_with_parts
from inventory.stock.api.lots import ChosenLotField, number_of
from studio.api.fields import (
    LONGEST_NOTES,
    MillionthsField,
    MoneyResponseField,
    QuantityField,
    QuantityInput,
    ReversedField,
    RowField,
)
from studio.api.schema import ENTITY_TAG, IF_MATCH
from studio.api.serializers import AskingRequest, ListOf, NamedResponse, RequestSerializer, ResponseSerializer
from studio.api.viewsets import ReadViewSet, change_seen, entity_tag
from studio.auditing.queries import last_change_number
from studio.errors import InputError
from studio.translation import _
from studio.values.numbers import format_scaled

MOST_INGREDIENTS = 100


class PartResponse(ResponseSerializer):
    """So many parts of one material."""

    material = NamedResponse()
    parts = serializers.SerializerMethodField()

    def get_parts(self, part: RecipePart) -> str:
        return format_scaled(part.parts, 3)


class VersionResponse(ResponseSerializer):
    """One version. One that has been mixed never changes."""

    number = serializers.IntegerField()
    basis = serializers.ChoiceField(choices=Basis.choices)
    written_on = serializers.DateField()
    notes = serializers.CharField()
    parts = PartResponse(many=True)


class RecipeResponse(ResponseSerializer):
    """One recipe, its newest version first."""

    id = serializers.IntegerField(source="pk")
    name = serializers.CharField()
    makes = NamedResponse()
    notes = serializers.CharField()
    is_archived = serializers.BooleanField()
    is_favourite = serializers.BooleanField(help_text="Offered first.")
    by_ratio = serializers.BooleanField(help_text="It came of a ratio; nobody wrote it as a recipe.")
    versions = VersionResponse(many=True, source="versions.all")


class RecipeDetailResponse(RecipeResponse):
    """One recipe and what it costs to mix."""

    cost_per_100ml = MoneyResponseField(
        allow_null=True, help_text="At the current cost of stock; null while a cost is unknown."
    )


class FavouriteRequest(RequestSerializer):
    """Whether it is offered first."""

    is_favourite = serializers.BooleanField()


class RecipePartRequest(RequestSerializer):
    """So many parts of one material."""

    material = RowField(Material.objects.filter(is_archived=False))
    parts = serializers.DecimalField(max_digits=9, decimal_places=3, min_value=Decimal("0.001"))

    def validate(self, attrs: dict[str, Any]) -> tuple[Material, int]:
        return attrs["material"], int(attrs["parts"].scaleb(3))


class RecipeVersionRequest(RequestSerializer):
    """What a recipe is mixed of from now on."""

    basis = serializers.ChoiceField(choices=Basis.choices, default=Basis.VOLUME)
    notes = serializers.CharField(required=False, max_length=LONGEST_NOTES, allow_blank=True, default="")
    parts = ListOf(child=RecipePartRequest(), allow_empty=False, max_length=MOST_INGREDIENTS)


class RecipeRequest(RecipeVersionRequest):
    """A recipe, and what it makes: a material that is there, or a new one of this kind."""

    name = serializers.CharField(max_length=120)
    makes = RowField(Material.objects.all(), required=False)
    new_name = serializers.CharField(required=False, max_length=120, help_text="Default: the recipe's name.")
    new_kind = serializers.ChoiceField(choices=[kind.value for kind in MADE_KINDS], default=Kind.MIX.value)
    new_measure = serializers.ChoiceField(choices=["volume", "mass"], default="volume")

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        new = {name: attrs.pop(f"new_{name}", "") for name in ("name", "kind", "measure")}
        if "makes" not in attrs:
            attrs["makes"] = Material(**new | {"name": new["name"] or attrs["name"]})
        elif new["name"]:
            raise InputError(_("Choose what it makes or name something new, not both."), field="new_name")
        return attrs


class RecipeViewSet(ReadViewSet):
    """Recipes by name, with all their versions."""

    queryset = (
        Recipe.objects.select_related("makes")
        .prefetch_related(Prefetch("versions", versions_with_parts()))
        .order_by("name", "pk")
    )
    serializer_class = RecipeResponse
    detail_serializer_class = RecipeDetailResponse
    request_serializer_class = RecipeRequest
    filterset_class = RecipeFilter

    def create(self, request: Request) -> Response:
        """Write a recipe. Sent again it is refused: its name is taken."""
        made = write_recipe(submission=self.submission(), **self.read_body())
        return self.answer(self.get_queryset().get(pk=made.pk), status=201)

    @extend_schema(parameters=[ENTITY_TAG])
    def retrieve(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        """One recipe, with an `ETag` for whoever writes a new version."""
        return self._tagged()

    @extend_schema(parameters=[ENTITY_TAG, IF_MATCH])
    @action(
        detail=True,
        methods=["post"],
        request_serializer_class=RecipeVersionRequest,
        filterset_class=None,
        post_status=200,
    )
    def versions(self, request: Request, pk: int) -> Response:
        """Write a new version, in place of a latest one that was never mixed. Sent again it changes nothing."""
        recipe, body = self.get_object(), self.read_body()
        write_version(recipe=recipe, submission=self.submission(), seen=change_seen(request), **body)
        return self._tagged()

    def _tagged(self) -> Response:
        tag = entity_tag(last_change_number(Recipe, int(self.kwargs["pk"]), fields=[PARTS]))  # before it
        answer = self.answer(self.get_object())
        answer.headers["ETag"] = tag
        return answer

    @action(
        detail=True,
        methods=["post"],
        request_serializer_class=RequestSerializer,
        filterset_class=None,
        post_status=200,
    )
    def keep(self, request: Request, pk: int) -> Response:
        """List a recipe that came of a ratio among those that were written."""
        self.read_body()
        keep_among_written(self.get_object(), submission=self.submission())
        return self.answer(self.get_object())

    @action(
        detail=True,
        methods=["post"],
        request_serializer_class=FavouriteRequest,
        filterset_class=None,
        post_status=200,
    )
    def favourite(self, request: Request, pk: int) -> Response:
        """Offer a recipe first, or no longer. Sent again it changes nothing."""
        is_favourite = self.read_body()["is_favourite"]
        set_favourite(self.get_object(), is_favourite, submission=self.submission())
        return self.answer(self.get_object())

    def details_of(self, row: Any) -> Any:
        latest = next(iter(row.versions.all()), None)
        row.cost_per_100ml = cost_per_100ml(latest) if latest and self.user.sees_money else None
        return row


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

    def _version(self, attrs: dict[str, Any]) -> RecipeVersion:
        versions = versions_with_parts().filter(recipe=attrs["recipe"])
        if "version" in attrs:
            versions = versions.filter(number=attrs["version"])
        version = versions.first()
        if version is None:
            raise InputError(_("This recipe has no such version."), field="version")
        return version

    def _amount(self, attrs: dict[str, Any], field: str) -> int | None:
        return self.amount_of(field, attrs[field], attrs["recipe"].makes) if field in attrs else None

    def _ingredients(self, attrs: dict[str, Any], version: RecipeVersion) -> list[Ingredient]:
        wanted = self._amount(attrs, "wanted")
        if wanted is None:
            return list(attrs["ingredients"])
        return [item for item in planned(version, wanted) if item.quantity]


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
    left = QuantityField("lot.balance.quantity", "lot.material.measure", help_text="In stock today.")
    posting = serializers.IntegerField(source="posting_id")
    confirmed = ConfirmedField(source="posting")
    is_reversed = ReversedField(source="posting")

    @extend_schema_field(EstimateResponse(many=True))
    def get_estimates(self, mix: Mix) -> list[dict[str, Any]]:
        return [
            {"material": int(material), "typed": kept["typed"]} for material, kept in mix.estimates.items()
        ]


class MixViewSet(ReadViewSet):
    """Mixes, newest first."""

    queryset = Mix.objects.select_related(
        "version__recipe", "lot__material", "lot__balance", "posting__reversed_by"
    ).order_by("-mixed_on", "-pk")
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


VIEWSETS = {"recipes": RecipeViewSet, "mixes": MixViewSet}
