"""Do I have enough for this set? Asked and answered; nothing is written."""

from typing import Any

from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from inventory.ledger.api.base import Named, ShelfView
from inventory.materials.models import Kind, Material
from inventory.recipes.models import Recipe
from inventory.sessions.models import Technique
from inventory.sessions.queries.planning import Colour, SetLine, SetPlan, plan_set
from studio.accounts.permissions import IsSignedIn
from studio.api.fields import (
    Amount,
    DecimalText,
    MoneyAmount,
    RequestSerializer,
    ResponseSerializer,
    RowNumber,
    WholeNumber,
)
from studio.api.views import REFUSED_TO_WRITE
from studio.preferences.context import current_studio
from studio.translation import _
from studio.values.units import Measure

MOST_LINES = 40
MOST_COLOURS = 20
MOST_OF_A_SURFACE = 10_000
LARGEST_SHARE = 1_000_000
WHOLE = 1_000_000


class ColourRequest(RequestSerializer):
    """One colour of a pour: a recipe or a material, and its share on any scale."""

    recipe = RowNumber(Recipe.objects.select_related("makes"), required=False)
    material = RowNumber(Material.objects.all(), required=False)
    share = WholeNumber(least=1, most=LARGEST_SHARE)

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        if ("recipe" in attrs) == ("material" in attrs):
            raise serializers.ValidationError(_("Choose either a recipe or a material."))
        return attrs


class SetLineRequest(RequestSerializer):
    """So many of one surface, poured by one technique."""

    surface = RowNumber(Material.objects.filter(kind=Kind.SURFACE))
    count = WholeNumber(least=1, most=MOST_OF_A_SURFACE)
    technique = RowNumber(Technique.objects.all())
    colours = serializers.ListSerializer[Any](
        child=ColourRequest(), allow_empty=False, max_length=MOST_COLOURS
    )


class SetRequest(RequestSerializer):
    """A set to be poured."""

    lines = serializers.ListSerializer[Any](child=SetLineRequest(), allow_empty=False, max_length=MOST_LINES)
    reserve = DecimalText(
        required=False, help_text="Extra paint, as a fraction of one; default: the studio's setting."
    )
    include_past_best = serializers.BooleanField(default=False)

    def validate_reserve(self, value: int) -> int:
        if value > WHOLE:
            raise serializers.ValidationError(_("Extra paint is between 0 and 1, such as 0.1 for a tenth."))
        return value


class SetLineResponse(ResponseSerializer):
    """One line of the set: the paint it takes, and how many could be poured if it stood alone."""

    surface = Named(source="line.surface")
    technique = Named(source="line.technique")
    count = serializers.IntegerField(source="line.count")
    area = Amount("area", Measure.AREA)
    rate = serializers.IntegerField(source="rate.value", help_text="Microlitres per cm², run-off included.")
    rate_from = serializers.CharField(source="rate.source")
    paint_each = Amount("paint_each", Measure.VOLUME)
    paint = Amount("paint", Measure.VOLUME)
    most = serializers.IntegerField(allow_null=True)


class NeedResponse(ResponseSerializer):
    """One bought material of the set; `held` is null for what never runs out."""

    material = Named()
    needed = Amount("needed", "material.measure")
    held = Amount("held", "material.measure", allow_null=True)
    on_order = Amount("on_order", "material.measure")
    past_best = Amount("past_best", "material.measure")
    short = Amount("short", "material.measure")


class CupPartResponse(ResponseSerializer):
    """One part of a cup; `reading` is what one scale, never reset, shows after it."""

    material = Named()
    volume = Amount("volume", Measure.VOLUME, allow_null=True)
    mass = Amount("mass", Measure.MASS, allow_null=True)
    reading = Amount("reading", Measure.MASS, allow_null=True)


class CupResponse(ResponseSerializer):
    """One mix: so much to mix, and so much there already."""

    material = Named()
    to_mix = Amount("to_mix", "material.measure")
    from_stock = Amount("from_stock", "material.measure")
    parts = CupPartResponse(many=True)
    water_share = DecimalText(help_text="Share of added water, as a fraction of one.")
    is_too_watery = serializers.BooleanField()


class PacksResponse(ResponseSerializer):
    """So many packs of one supply."""

    supply = serializers.IntegerField(source="supply.pk")
    pack_size = Amount("supply.pack_size", "supply.material.measure")
    packs = serializers.IntegerField()


class BuyResponse(ResponseSerializer):
    """What to buy of one material, and from whom."""

    material = serializers.IntegerField()
    supplier = Named()
    lines = PacksResponse(many=True)
    currency = serializers.CharField()
    cost = MoneyAmount(help_text="In the supplier's currency.")


class SetAnswerResponse(ResponseSerializer):
    """What a set comes to."""

    is_enough = serializers.BooleanField()
    most_sets = serializers.IntegerField(allow_null=True)
    lines = SetLineResponse(many=True)
    needs = NeedResponse(many=True)
    mix_first = CupResponse(many=True)
    cups = CupResponse(many=True)
    buy = BuyResponse(many=True)
    nobody_sells = Named(many=True)
    cost = MoneyAmount(help_text="Materials at what they cost now.")
    cost_unknown = Named(many=True)


class Enough(ShelfView):
    permission_classes = [IsSignedIn]

    @extend_schema(
        operation_id="enough", request=SetRequest, responses={200: SetAnswerResponse, **REFUSED_TO_WRITE}
    )
    def post(self, request: Request) -> Response:
        """What a set needs against what the shelf holds. Posts nothing."""
        said = self.said(SetRequest)
        reserve = said.get("reserve", current_studio(request._request).reserve)
        plan = SetPlan(
            lines=[_line(line) for line in said["lines"]],
            reserve=reserve,
            include_past_best=said["include_past_best"],
        )
        return self.one(SetAnswerResponse, plan_set(plan, on=timezone.localdate()))


def _line(said: dict[str, Any]) -> SetLine:
    colours = [
        Colour(colour.get("recipe") or colour["material"], colour["share"]) for colour in said["colours"]
    ]
    return SetLine(said["surface"], said["count"], said["technique"], colours)
