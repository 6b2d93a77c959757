"""The stock check for programs: is there enough for this set? Nothing is written."""

from typing import Any

from django.utils import timezone
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from inventory.materials.models import Kind, Material
from inventory.plans.queries import figures_for
from inventory.recipes.models import Recipe
from inventory.sessions.models import Technique
from inventory.sessions.queries.planning import Colour, SetLine, SetPlan, plan_set
from inventory.shopping.queries import with_what_to_buy
from studio.accounts.permissions import IsSignedIn
from studio.api.fields import MillionthsField, MoneyResponseField, QuantityField, RowField
from studio.api.serializers import ListOf, NamedResponse, RequestSerializer, ResponseSerializer
from studio.api.viewsets import StudioViewSet
from studio.preferences.context import current_studio
from studio.translation import _
from studio.values.allocation import MILLION
from studio.values.units import Measure

MOST_LINES = 40
MOST_COLOURS = 20
MOST_OF_A_SURFACE = 10_000
LARGEST_SHARE = 1_000_000


class ColourRequest(RequestSerializer):
    """One colour of a pour: a recipe or a material, and its share on any scale."""

    recipe = RowField(Recipe.objects.select_related("makes"), required=False)
    material = RowField(Material.objects.all(), required=False)
    share = serializers.IntegerField(min_value=1, max_value=LARGEST_SHARE)

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        if ("recipe" in attrs) == ("material" in attrs):
            raise serializers.ValidationError(_("Choose either a recipe or a material."))
        material = attrs["recipe"].makes if "recipe" in attrs else attrs["material"]
        return {"material": material, "share": attrs["share"]}


class SetLineRequest(RequestSerializer):
    """So many of one surface, poured by one technique."""

    surface = RowField(Material.objects.filter(kind=Kind.SURFACE))
    count = serializers.IntegerField(min_value=1, max_value=MOST_OF_A_SURFACE)
    technique = RowField(Technique.objects.all())
    colours = ListOf(child=ColourRequest(), allow_empty=False, max_length=MOST_COLOURS)


class StockCheckRequest(RequestSerializer):
    """A set to be poured."""

    lines = ListOf(child=SetLineRequest(), allow_empty=False, max_length=MOST_LINES)
    on = serializers.DateField(required=False, help_text="The day it is poured; default: today.")
    extra_paint = MillionthsField(
        required=False, help_text="As a fraction of one; default: the studio's setting."
    )
    include_expired = serializers.BooleanField(default=False)

    def validate_extra_paint(self, value: int) -> int:
        if value > MILLION:
            raise serializers.ValidationError(_("Extra paint is between 0 and 1, such as 0.1 for a tenth."))
        return value


class SetLineResponse(ResponseSerializer):
    """One line of the set: the paint it takes, and how many could be poured if it stood alone."""

    surface = NamedResponse(source="line.surface")
    technique = NamedResponse(source="line.technique")
    count = serializers.IntegerField(source="line.count")
    area = QuantityField("area", Measure.AREA)
    rate = serializers.IntegerField(source="rate.value", help_text="Microlitres per cm², run-off included.")
    source = serializers.CharField(help_text="Where the rate comes from.")  # type: ignore[assignment]
    own_pours = serializers.IntegerField(
        source="rate.pours", help_text="Pours that the rate was learned from."
    )
    least_paint = QuantityField(
        "least_paint", Measure.VOLUME, help_text="Of the whole line, without extra paint."
    )
    most_paint = QuantityField(
        "most_paint", Measure.VOLUME, help_text="Between the two it lies eight times in ten."
    )
    paint_each = QuantityField("paint_each", Measure.VOLUME)
    paint = QuantityField("paint", Measure.VOLUME)
    most = serializers.IntegerField(allow_null=True)


class NeedResponse(ResponseSerializer):
    """One material of the set; `held` and `available` are null for what never runs out."""

    material = NamedResponse()
    needed = QuantityField("needed", "material.measure")
    held = QuantityField("held", "material.measure", allow_null=True)
    reserved = QuantityField("reserved", "material.measure", help_text="By plans.")
    due = QuantityField("due", "material.measure", help_text="On order and expected by the day.")
    available = QuantityField(
        "available", "material.measure", allow_null=True, help_text="Without leaving any plan short."
    )
    on_order = QuantityField("on_order", "material.measure", help_text="All that is still to come.")
    expired = QuantityField("expired", "material.measure", help_text="Left out of what is held.")
    short = QuantityField("short", "material.measure")
    to_mix = QuantityField("to_mix", "material.measure", help_text="Of a mix: what is still missing of it.")


class CupPartResponse(ResponseSerializer):
    """One part of a cup: exact, and rounded to what the studio's measuring cup and scale can tell."""

    material = NamedResponse()
    volume = QuantityField("volume", Measure.VOLUME, allow_null=True)
    mass = QuantityField("mass", Measure.MASS, allow_null=True)
    measured = QuantityField("measured", Measure.VOLUME, allow_null=True)
    weighed = QuantityField("weighed", Measure.MASS, allow_null=True)
    cup_shows = QuantityField("cup_shows", Measure.VOLUME, allow_null=True)
    scale_shows = QuantityField("scale_shows", Measure.MASS, allow_null=True)
    drops = serializers.IntegerField(
        help_text="About so many, where it is too little to be measured; else 0."
    )


class CupResponse(ResponseSerializer):
    """One mix: so much to mix, and so much there already."""

    material = NamedResponse()
    to_mix = QuantityField("to_mix", "material.measure")
    from_stock = QuantityField("from_stock", "material.measure")
    parts = CupPartResponse(many=True)
    water_share = MillionthsField(help_text="Share of added water, as a fraction of one.")
    water_limit = MillionthsField(help_text="The studio's own.")
    is_too_watery = serializers.BooleanField()


class PacksResponse(ResponseSerializer):
    """So many packs of one supply."""

    supply = serializers.IntegerField(source="supply.pk")
    pack_size = QuantityField("supply.pack_size", "supply.material.measure")
    packs = serializers.IntegerField()


class BuyResponse(ResponseSerializer):
    """What to buy of one material, and from whom."""

    material = serializers.IntegerField()
    supplier = NamedResponse()
    lines = PacksResponse(many=True)
    currency = serializers.CharField()
    cost = MoneyResponseField(help_text="In the supplier's currency.")


class ChoiceResponse(ResponseSerializer):
    """How many of one line there is enough for, by what should give way. The lines are in the set's order."""

    count = serializers.IntegerField(source="need.line.count")
    most = serializers.IntegerField(help_text="As many pours as can be.")
    in_proportion = serializers.IntegerField(help_text="The same share of every line.")
    filled = serializers.IntegerField(help_text="The same share of every line, then as many more as can be.")
    in_order = serializers.IntegerField(help_text="As many as can be of the first line, then of the next.")


class StockCheckResponse(ResponseSerializer):
    """What a set takes, and whether there is enough."""

    is_enough = serializers.BooleanField()
    is_enough_without_extra = serializers.BooleanField(help_text="With no extra paint on top.")
    most_sets = serializers.IntegerField(allow_null=True)
    most_pours = serializers.IntegerField(
        source="at_most.most.total", help_text="As many of the set's pours as there is enough for."
    )
    most_pours_bound = serializers.IntegerField(
        source="at_most.most.bound",
        help_text="What no choice of pours can exceed. It equals most_pours unless the search took too long.",
    )
    choices = ChoiceResponse(many=True)
    lines = SetLineResponse(many=True)
    needs = NeedResponse(many=True)
    made = NeedResponse(many=True, help_text="What is mixed on the way.")
    mix_first = CupResponse(many=True)
    cups = CupResponse(many=True)
    buy = BuyResponse(many=True)
    without_supplier = NamedResponse(source="nobody_sells", many=True)
    cost = MoneyResponseField(help_text="Materials at what they cost now.")
    cost_unknown = NamedResponse(many=True)


class StockCheckViewSet(StudioViewSet):
    """Is there enough for a set?"""

    permission_classes = [IsSignedIn]
    serializer_class = StockCheckResponse
    request_serializer_class = StockCheckRequest
    post_status = 200

    def create(self, request: Request) -> Response:
        """What a set needs against what is in stock. Nothing is written."""
        body = self.read_body()
        plan = SetPlan(
            lines=[
                SetLine(**line | {"colours": [Colour(**colour) for colour in line["colours"]]})
                for line in body["lines"]
            ],
            reserve=body.get("extra_paint", current_studio(request._request).reserve),
            include_expired=body["include_expired"],
        )
        today = timezone.localdate()
        day = max(body.get("on", today), today)
        answer = plan_set(plan, on=day, figures=figures_for(plan, on=day, today=today))
        return self.answer(with_what_to_buy(answer, today, is_kept=False))
