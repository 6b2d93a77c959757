"""Recipes and mixes for programs."""

from typing import Any

from django.db.models import Prefetch
from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from inventory.ledger.api import ConfirmedField
from inventory.ledger.models import Posting
from inventory.materials.models import Material
from inventory.recipes.actions.batches import make_mix
from inventory.recipes.actions.mixes import Ingredient, MixFacts, planned
from inventory.recipes.actions.ratios import (
    MOST_MIXED,
    RatioFacts,
    RatioPartFacts,
    RatioUse,
    facts_of,
    mix_by_ratio,
    save_ratio,
)
from inventory.recipes.filters import MixFilter, RatioFilter, RecipeFilter
from inventory.recipes.models import (
    Basis,
    Mix,
    Ratio,
    RatioPart,
    RatioRole,
    Recipe,
    RecipePart,
    RecipeVersion,
)
from inventory.recipes.queries import cost_per_100ml, versions_with_parts
from inventory.recipes.ratio_parts import (
    RatioUnit,
    Role,
    RolePart,
    notation,
    read_amount,
    read_notation,
    written_amount,
)
from inventory.stock.api import ChosenLotField, number_of
from studio.api.fields import (
    LONGEST_NOTES,
    MillionthsField,
    MoneyResponseField,
    QuantityField,
    QuantityInput,
    ReversedField,
    RowField,
)
from studio.api.serializers import AskingRequest, NamedResponse, RequestSerializer, ResponseSerializer
from studio.api.viewsets import ReadViewSet, StudioViewSet
from studio.errors import InputError
from studio.translation import _
from studio.values.numbers import format_scaled

MOST_INGREDIENTS = 100
ListOf = serializers.ListSerializer[Any]


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
    by_ratio = serializers.BooleanField(help_text="It came of a ratio; nobody wrote it as a recipe.")
    versions = VersionResponse(many=True, source="versions.all")


class RecipeDetailResponse(RecipeResponse):
    """One recipe and what it costs to mix."""

    cost_per_100ml = MoneyResponseField(
        allow_null=True, help_text="At the current cost of stock; null while a cost is unknown."
    )


class RecipeViewSet(ReadViewSet):
    """Recipes by name, with all their versions."""

    queryset = (
        Recipe.objects.select_related("makes")
        .prefetch_related(Prefetch("versions", versions_with_parts()))
        .order_by("name", "pk")
    )
    serializer_class = RecipeResponse
    detail_serializer_class = RecipeDetailResponse
    filterset_class = RecipeFilter

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
    keyed_models = (Posting,)

    def create(self, request: Request) -> Response:
        """Mix a batch ahead of a session."""
        return self.post_once(
            lambda body: make_mix(
                facts=body["facts"],
                confirm_gain=body["confirm_gain"],
                submission=self.submission(on=body["on"]),
            )
        )


class RatioPartRequest(RequestSerializer):
    """So much of one role. Without a material, that is chosen when the ratio is applied."""

    role = serializers.ChoiceField(choices=RatioRole.choices)
    amount = serializers.CharField(
        max_length=20,
        help_text="Parts: 2, 1/2. An additive also as 2% of the cup, or as 3 drops in 100 mL of it.",
    )
    material = RowField(Material.objects.all(), required=False)

    def validate(self, attrs: dict[str, Any]) -> RatioPartFacts:
        try:
            amount, unit = read_amount(attrs["amount"], decimal_comma=False)
        except InputError as problem:
            raise InputError(str(problem), field="amount") from None
        return RatioPartFacts(attrs["role"], amount, unit, attrs.get("material"))


class RatioRequest(RequestSerializer):
    """A ratio to keep."""

    name = serializers.CharField(max_length=120)
    basis = serializers.ChoiceField(choices=Basis.choices, default=Basis.VOLUME)
    notes = serializers.CharField(required=False, max_length=LONGEST_NOTES, allow_blank=True, default="")
    parts = ListOf(child=RatioPartRequest(), allow_empty=False, max_length=MOST_INGREDIENTS)

    def validate(self, attrs: dict[str, Any]) -> RatioFacts:
        return RatioFacts(**attrs)


class RatioPartResponse(ResponseSerializer):
    """So much of one role, as it is written."""

    role = serializers.ChoiceField(choices=RatioRole.choices)
    amount = serializers.SerializerMethodField()
    material = NamedResponse(allow_null=True)

    def get_amount(self, part: RatioPart) -> str:
        return written_amount(RolePart(Role(part.role), part.amount, RatioUnit(part.unit)))


class RatioResponse(ResponseSerializer):
    """One ratio: parts by role."""

    id = serializers.IntegerField(source="pk")
    name = serializers.CharField()
    basis = serializers.ChoiceField(choices=Basis.choices)
    notes = serializers.CharField()
    is_archived = serializers.BooleanField()
    written = serializers.SerializerMethodField(help_text="In numbers, as paint : medium : water.")
    parts = RatioPartResponse(many=True, source="parts.all")

    def get_written(self, ratio: Ratio) -> str:
        return notation([RolePart(Role(p.role), p.amount, RatioUnit(p.unit)) for p in ratio.parts.all()])


class RatioViewSet(ReadViewSet):
    """Ratios by name."""

    queryset = Ratio.objects.prefetch_related("parts__material").order_by("name", "pk")
    serializer_class = RatioResponse
    request_serializer_class = RatioRequest
    filterset_class = RatioFilter

    def create(self, request: Request) -> Response:
        """Keep a ratio. Sent again it is refused: its name is taken."""
        made = save_ratio(facts=self.read_body(), submission=self.submission())
        return self.answer(self.get_queryset().get(pk=made.pk), status=201)


class RatioUseRequest(RequestSerializer):
    """A ratio that is kept, or one that is written here, applied to every paint with every medium."""

    ratio = RowField(Ratio.objects.prefetch_related("parts__material"), required=False)
    written = serializers.CharField(
        max_length=60, required=False, help_text="Paint : medium : water, such as 1 : 2 : 1/2 + 3 drops."
    )
    basis = serializers.ChoiceField(
        choices=Basis.choices, required=False, help_text="Of a ratio that is written here; default: volume."
    )
    paints = serializers.ListField(child=RowField(Material.objects.all()), max_length=MOST_MIXED)
    media = serializers.ListField(
        child=RowField(Material.objects.all()), required=False, default=list, max_length=MOST_MIXED
    )
    additive = RowField(Material.objects.all(), required=False)
    water = RowField(Material.objects.all(), required=False, help_text="Default: the studio's free water.")

    def validate(self, attrs: dict[str, Any]) -> RatioUse:
        ratio, written, basis = (attrs.pop(name, None) for name in ("ratio", "written", "basis"))
        if (ratio is None) == (written is None) or (ratio is not None and basis is not None):
            raise serializers.ValidationError(_("Name a ratio, or write one."))
        return RatioUse(facts_of(ratio) if ratio else _written(written, basis or Basis.VOLUME), **attrs)


def _written(text: str, basis: str) -> RatioFacts:
    try:
        parts = [RatioPartFacts(p.role, p.amount, p.unit) for p in read_notation(text, decimal_comma=False)]
        return RatioFacts(parts, basis)
    except InputError as problem:
        raise InputError(str(problem), field="written") from None


class MixedByRatioResponse(ResponseSerializer):
    """What a ratio comes to for one paint and one medium: a recipe, to be planned and mixed like any other."""

    paint = NamedResponse()
    medium = NamedResponse(allow_null=True)
    recipe = NamedResponse()
    makes = NamedResponse(source="recipe.makes")


class RatioRecipesResponse(ResponseSerializer):
    """Every paint with every medium, medium by medium."""

    recipes = MixedByRatioResponse(many=True)


class RatioRecipesViewSet(StudioViewSet):
    """Recipes that come of a ratio."""

    queryset = Recipe.objects.none()
    serializer_class = RatioRecipesResponse
    request_serializer_class = RatioUseRequest
    post_status = 200

    def create(self, request: Request) -> Response:
        """Apply a ratio. Every pair answers one recipe; sent again, the same ones."""
        mixed = mix_by_ratio(use=self.read_body(), submission=self.submission())
        return self.answer({"recipes": mixed})


VIEWSETS = {
    "recipes": RecipeViewSet,
    "mixes": MixViewSet,
    "ratios": RatioViewSet,
    "ratio-recipes": RatioRecipesViewSet,
}
