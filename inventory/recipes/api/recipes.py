"""Recipes as they stand, version by version."""

from typing import Any

from django.db.models import Prefetch
from django.shortcuts import get_object_or_404
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from inventory.ledger.api.base import Named, ShelfView
from inventory.recipes.actions.recipes import cost_per_100ml
from inventory.recipes.models import Basis, Recipe, RecipePart, RecipeVersion
from studio.api.fields import MoneyAmount, ResponseSerializer
from studio.api.views import REFUSED, QuerySerializer
from studio.values.numbers import format_scaled


class RecipesQuery(QuerySerializer):
    """What the list may be asked for."""

    search = serializers.CharField(required=False, max_length=100, help_text="Words in the name.")
    archived = serializers.BooleanField(required=False, help_text="Include archived.")


class PartResponse(ResponseSerializer):
    """So many parts of one material."""

    material = Named()
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
    makes = Named()
    notes = serializers.CharField()
    is_archived = serializers.BooleanField()
    versions = VersionResponse(many=True, source="versions.all")


class RecipeDetailResponse(RecipeResponse):
    """One recipe and what it costs to mix."""

    cost_per_100ml = MoneyAmount(
        allow_null=True, help_text="At the current cost of stock; null while a cost is unknown."
    )


class RecipeList(ShelfView):
    query = RecipesQuery
    is_list = True

    @extend_schema(
        operation_id="recipes_list",
        parameters=[RecipesQuery],
        responses={200: RecipeResponse(many=True), **REFUSED},
    )
    def get(self, request: Request) -> Response:
        """Recipes by name."""
        found = recipes()
        if not self.asked.get("archived"):
            found = found.filter(is_archived=False)
        for word in self.asked.get("search", "").split():
            found = found.filter(name__icontains=word)
        return self.paged(RecipeResponse, found)


class RecipeDetail(ShelfView):
    @extend_schema(operation_id="recipes_read", responses={200: RecipeDetailResponse, **REFUSED})
    def get(self, request: Request, pk: int) -> Response:
        """One recipe with all its versions."""
        recipe = get_object_or_404(recipes(), pk=pk)
        latest = next(iter(recipe.versions.all()), None)
        known = cost_per_100ml(latest) if latest is not None and self.person.sees_money else None
        recipe.cost_per_100ml = known
        return self.one(RecipeDetailResponse, recipe)


def recipes() -> Any:
    """Recipes with their versions, newest first, and their parts."""
    parts = Prefetch("parts", RecipePart.objects.select_related("material"))
    versions = (
        RecipeVersion.objects.select_related("recipe__makes").prefetch_related(parts).order_by("-number")
    )
    return Recipe.objects.select_related("makes").prefetch_related(Prefetch("versions", versions))
