"""Recipes for programs."""

from decimal import Decimal
from typing import Any

from django.db.models import Prefetch
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from inventory.materials.models import Kind, Material
from inventory.recipes.actions.ratios import MOST_MIXED, keep_among_written, set_favourite
from inventory.recipes.actions.recipes import write_recipe, write_version
from inventory.recipes.actions.variants import OtherPaints, duplicate_recipe, set_colour, write_for_paints
from inventory.recipes.filters import RecipeFilter
from inventory.recipes.forms.recipes import MADE_KINDS
from inventory.recipes.models import PARTS, Basis, Recipe, RecipePart
from inventory.recipes.queries import cost_per_100ml, guessed_colour, versions_with_parts
from studio.api.fields import LONGEST_NOTES, MoneyResponseField, RowField
from studio.api.schema import ENTITY_TAG, IF_MATCH
from studio.api.serializers import ListOf, NamedResponse, RequestSerializer, ResponseSerializer
from studio.api.viewsets import ReadViewSet, change_seen, row_action
from studio.errors import InputError
from studio.translation import _
from studio.values.numbers import format_scaled

MOST_PARTS = 100


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
    colour = serializers.CharField(
        source="makes.colour", help_text="Of its swatch, such as #1f5f6b; or empty."
    )
    is_favourite = serializers.BooleanField(help_text="Offered first.")
    by_ratio = serializers.BooleanField(help_text="It comes from a ratio and was not written as a recipe.")
    versions = VersionResponse(many=True, source="versions.all")


class RecipeDetailResponse(RecipeResponse):
    """One recipe and what it costs to mix."""

    cost_per_100ml = MoneyResponseField(
        allow_null=True, help_text="At the current cost of stock; null while a cost is unknown."
    )
    guessed_colour = serializers.CharField(
        help_text="A rough guess by the colours of its paints; empty while one of them is not known."
    )


class FavouriteRequest(RequestSerializer):
    """Whether it is offered first."""

    is_favourite = serializers.BooleanField()


class DuplicateRequest(RequestSerializer):
    """What the copy is called, and what it makes."""

    name = serializers.CharField(max_length=120)


class ForPaintsRequest(RequestSerializer):
    """Other paints for one of the recipe's own: a recipe for each."""

    paints = serializers.ListField(
        child=RowField(Material.objects.filter(is_archived=False)), allow_empty=False, max_length=MOST_MIXED
    )
    replaces = RowField(
        Material.objects.all(), required=False, help_text="Default: the recipe's paint, if it has just one."
    )


class SwatchRequest(RequestSerializer):
    """The colour of its swatch."""

    colour = serializers.CharField(
        max_length=7, allow_blank=True, help_text="Such as #1f5f6b; empty for none."
    )


class WrittenForPaintResponse(ResponseSerializer):
    """A recipe for one paint."""

    recipe = NamedResponse()
    is_new = serializers.BooleanField(help_text="False: a recipe with just these parts was there already.")


class ForPaintsResponse(ResponseSerializer):
    """A recipe for each paint, in the order that they were sent in."""

    recipes = WrittenForPaintResponse(many=True)


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
    parts = ListOf(child=RecipePartRequest(), allow_empty=False, max_length=MOST_PARTS)


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
        return self.tagged(fields=[PARTS])

    @extend_schema(parameters=[ENTITY_TAG, IF_MATCH])
    @row_action(request_serializer_class=RecipeVersionRequest)
    def versions(self, request: Request, pk: int) -> Response:
        """Write a new version, in place of a latest one that was never mixed. Sent again it changes nothing."""
        recipe, body = self.get_object(), self.read_body()
        write_version(recipe=recipe, submission=self.submission(), seen=change_seen(request), **body)
        return self.tagged(fields=[PARTS])

    @row_action(request_serializer_class=RequestSerializer)
    def keep(self, request: Request, pk: int) -> Response:
        """List a recipe that came of a ratio among those that were written."""
        self.read_body()
        keep_among_written(self.get_object(), submission=self.submission())
        return self.answer(self.get_object())

    @row_action(request_serializer_class=FavouriteRequest)
    def favourite(self, request: Request, pk: int) -> Response:
        """Offer a recipe first, or no longer. Sent again it changes nothing."""
        is_favourite = self.read_body()["is_favourite"]
        set_favourite(self.get_object(), is_favourite, submission=self.submission())
        return self.answer(self.get_object())

    @action(detail=True, methods=["post"], request_serializer_class=DuplicateRequest)
    def duplicate(self, request: Request, pk: int) -> Response:
        """Write its newest version as another recipe. Sent again it is refused: its name is taken."""
        name = self.read_body()["name"]
        made = duplicate_recipe(recipe=self.get_object(), name=name, submission=self.submission())
        return self.answer(self.get_queryset().get(pk=made.pk), status=201)

    @row_action(
        url_path="for-paints",
        request_serializer_class=ForPaintsRequest,
        detail_serializer_class=ForPaintsResponse,
    )
    def for_paints(self, request: Request, pk: int) -> Response:
        """Write the same for other paints, a recipe for each. Sent again it finds those that it made."""
        recipe, body = self.get_object(), self.read_body()
        version = next(iter(recipe.versions.all()), None)
        if version is None:
            raise InputError(_("This recipe has no parts yet. Add them first."))
        wanted = OtherPaints(version, body["paints"], body.get("replaces"))
        written = write_for_paints(wanted=wanted, submission=self.submission())
        rows = [{"recipe": made, "is_new": is_new} for made, is_new in written]
        return Response(self.get_serializer({"recipes": rows}).data)

    @row_action(request_serializer_class=SwatchRequest)
    def colour(self, request: Request, pk: int) -> Response:
        """Set the colour of its swatch. Sent again it changes nothing."""
        recipe = self.get_object()
        set_colour(recipe.makes, self.read_body()["colour"], submission=self.submission())
        return self.answer(self.get_object())

    def details_of(self, row: Any) -> Any:
        latest = next(iter(row.versions.all()), None)
        parts = latest.parts.all() if latest else []
        row.guessed_colour = guessed_colour((part.material, part.parts) for part in parts)
        row.cost_per_100ml = cost_per_100ml(latest) if latest and self.user.sees_money else None
        return row


VIEWSETS = {"recipes": RecipeViewSet}
