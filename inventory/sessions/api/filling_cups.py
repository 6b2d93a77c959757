"""One cup while it is filled, for programs: what goes in, and how to go on after too much of a part. Writes nothing."""

from typing import Any

from django.utils import timezone
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from inventory.materials.models import Material
from inventory.plans.models import Plan
from inventory.plans.queries import Promises, set_of
from inventory.recipes.actions.mixes import Ingredient, blend_of, planned
from inventory.recipes.filling import Instrument
from inventory.recipes.models import Recipe
from inventory.recipes.queries import version_of
from inventory.sessions.api.stock_check import CupResponse
from inventory.sessions.queries.filling_cups import FilledFacts, fill_cup
from studio.accounts.permissions import IsSignedIn
from studio.api.fields import MillionthsField, QuantityField, QuantityInput, RowField
from studio.api.serializers import ListOf, NamedResponse, RequestSerializer, ResponseSerializer
from studio.api.viewsets import StudioViewSet
from studio.errors import InputError, MeniscusError
from studio.preferences.context import current_studio
from studio.translation import _
from studio.values.units import Measure

MOST_READINGS = 40


class ShownRequest(RequestSerializer):
    """What the scale or measuring cup showed after one part."""

    material = RowField(Material.objects.all())
    shows = QuantityInput()


class CupFillingRequest(RequestSerializer):
    """A cup of so much of a recipe, and what was shown after its parts so far."""

    recipe = RowField(Recipe.objects.select_related("makes"))
    version = serializers.IntegerField(
        min_value=1, max_value=10_000, required=False, help_text="Default: the newest."
    )
    wanted = QuantityInput()
    empty = QuantityInput(required=False, help_text="What is shown with the empty cup; default: 0.")
    room = QuantityInput(required=False, help_text="What the cup holds at most.")
    shown = ListOf(child=ShownRequest(), required=False, max_length=MOST_READINGS)
    plan = RowField(
        Plan.objects.with_lines(), required=False, help_text="Must stock still suffice for this plan?"
    )

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        version = version_of(attrs["recipe"], attrs.get("version"))
        makes = version.recipe.makes
        wanted = self.amount_of("wanted", attrs["wanted"], makes)
        studio = current_studio(self.context["request"]._request)
        parts = planned(version, wanted)
        measure = Instrument.for_parts(parts, studio).measure
        empty = self.amount_in("empty", attrs["empty"], measure, allow_zero=True) if "empty" in attrs else 0
        room = None
        if "room" in attrs:
            room = self.amount_in("room", attrs["room"], measure, density=_density(parts))
        shows = self._shows(attrs.get("shown", []), [item.material for item in parts], measure)
        return {"facts": FilledFacts(version, wanted, shows, empty, room), "plan": attrs.get("plan")}

    def _shows(self, shown: list[Any], materials: list[Material], measure: Measure) -> list[int | None]:
        shows: list[int | None] = [None] * len(materials)
        for line, each in enumerate(shown, start=1):
            material = each["material"]
            if material not in materials:
                no_part = _("{name} is not a part of this recipe.", name=material)
                raise InputError(no_part, field="material", line=line, rows="shown")
            try:
                amount = self.amount_in(
                    "shows", each["shows"], measure, density=material.density, allow_zero=True
                )
            except InputError as problem:
                raise problem.on_line(line, rows="shown") from None
            shows[materials.index(material)] = amount
        return shows


class AddedResponse(ResponseSerializer):
    """What is added of one part, and what is shown then."""

    material = NamedResponse()
    amount = QuantityField("amount", "measure")
    shows = QuantityField("shows", "measure")


class ShortageResponse(ResponseSerializer):
    """What there would be too little of, and how much."""

    material = NamedResponse()
    quantity = QuantityField("quantity", "material.measure")


class ContentResponse(ResponseSerializer):
    """So much of one material in the cup."""

    material = NamedResponse()
    quantity = QuantityField("quantity", "material.measure")


class WayResponse(ResponseSerializer):
    """One way to go on: pour off until `kept` is shown, then add."""

    kept = QuantityField("kept", "measure", help_text="What is shown before anything is added.")
    added = AddedResponse(many=True)
    contents = ContentResponse(many=True, help_text="What is in the cup then.")
    water_share = MillionthsField(source="water", help_text="Share of added water, as a fraction of one.")
    short = ShortageResponse(many=True, help_text="What stock lacks for it and for the rest of the plan.")


class CupFillingResponse(ResponseSerializer):
    """A cup in pouring order; once something was shown, how to go on."""

    cup = CupResponse()
    near_enough = serializers.BooleanField(source="filling.is_near_enough", help_text="To 2% or one step.")
    next = WayResponse(allow_null=True)
    ways = WayResponse(
        many=True,
        help_text="Where stock or the cup are too small for `next`: add what there is, or pour some off.",
    )


class CupFillingViewSet(StudioViewSet):
    """What goes into a cup, and how to go on after too much of a part."""

    permission_classes = [IsSignedIn]
    serializer_class = CupFillingResponse
    request_serializer_class = CupFillingRequest
    post_status = 200

    def create(self, request: Request) -> Response:
        """What to add so that a cup is in proportion again. Nothing is written."""
        body = self.read_body()
        today, studio = timezone.localdate(), current_studio(request._request)
        kept: Plan | None = body["plan"]
        if kept is None:
            return self.answer(fill_cup(body["facts"], on=today, studio=studio))
        day = max(kept.planned_on, today)
        figures = Promises(today).on(day, ahead_of=kept, include_expired=kept.include_expired)
        return self.answer(
            fill_cup(body["facts"], on=day, studio=studio, plan=set_of(kept, studio), figures=figures)
        )


def _density(parts: list[Ingredient]) -> int | None:
    """Of the mix, where those of all its parts are known."""
    try:
        return blend_of(parts)
    except MeniscusError:
        return None
