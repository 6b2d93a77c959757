"""Ratios for programs: kept, and applied to paints and media."""

from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from inventory.materials.models import Material
from inventory.recipes.actions.ratios import (
    MOST_MIXED,
    RatioFacts,
    RatioPartFacts,
    RatioUse,
    facts_of,
    mix_by_ratio,
    save_ratio,
)
from inventory.recipes.filters import RatioFilter
from inventory.recipes.models import Basis, Ratio, RatioPart, RatioRole, Recipe
from inventory.recipes.ratio_parts import (
    RatioUnit,
    Role,
    RolePart,
    notation,
    read_amount,
    read_notation,
    written_amount,
)
from studio.api.fields import LONGEST_NOTES, RowField
from studio.api.schema import ENTITY_TAG, IF_MATCH
from studio.api.serializers import ListOf, NamedResponse, RequestSerializer, ResponseSerializer
from studio.api.viewsets import ReadViewSet, StudioViewSet, change_seen, row_action
from studio.errors import InputError
from studio.translation import _

MOST_PARTS = 100


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
    parts = ListOf(child=RatioPartRequest(), allow_empty=False, max_length=MOST_PARTS)
    is_favourite = serializers.BooleanField(default=False, help_text="Offered first.")
    is_archived = serializers.BooleanField(default=False, help_text="No longer offered.")

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
    is_favourite = serializers.BooleanField()
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

    @extend_schema(parameters=[ENTITY_TAG])
    def retrieve(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        """One ratio, with an `ETag` for whoever changes it."""
        return self.tagged()

    @extend_schema(parameters=[ENTITY_TAG, IF_MATCH])
    @row_action()
    def change(self, request: Request, pk: int) -> Response:
        """Write a ratio anew, all of it. What was mixed by it stays. Sent again it changes nothing."""
        ratio, facts = self.get_object(), self.read_body()
        save_ratio(facts=facts, submission=self.submission(), ratio=ratio, seen=change_seen(request))
        return self.tagged()


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


VIEWSETS = {"ratios": RatioViewSet, "ratio-recipes": RatioRecipesViewSet}
