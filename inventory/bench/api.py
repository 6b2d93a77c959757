"""The bench for programs: a plan's steps, what they come to, and what was done, logged as a session."""

from typing import Any

from django.urls import reverse
from django.utils import timezone
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from inventory.bench.actions import BenchFacts, CupWork, LineWork, log_bench
from inventory.bench.calculations import StepKind, Touch, TouchKind
from inventory.bench.queries import MOST_POURS, open_bench
from inventory.bench.wording import BenchWords
from inventory.materials.models import Kind, Material
from inventory.plans.models import MOST_ON_A_LINE, Plan
from inventory.recipes.actions.mixes import Ingredient
from inventory.recipes.models import Mix, RecipeVersion
from inventory.sessions.models import Session, Technique
from inventory.stock.api.lots import ChosenLotField, number_of
from studio.api.fields import QuantityField, RowField
from studio.api.serializers import AskingRequest, ListOf, NamedResponse, RequestSerializer, ResponseSerializer
from studio.api.viewsets import DetailViewSet, idempotency_key
from studio.constraints import LARGEST
from studio.preferences.context import current_studio

MOST_CUPS, MOST_PARTS, MOST_LINES, MOST_TOUCHES, MOST_MINUTES = 40, 60, 200, 400, 10_000


class Thousandths(serializers.IntegerField):
    """So many whole thousandths of the base unit of the material's measure."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(min_value=1, max_value=LARGEST, **kwargs)


class BenchPartRequest(RequestSerializer):
    """What went into a cup of one material, in thousandths of its base unit."""

    material = RowField(Material.objects.all())
    quantity = Thousandths()
    lot = ChosenLotField(required=False, allow_null=True)

    def validate(self, attrs: dict[str, Any]) -> Ingredient:
        lot = number_of(attrs.get("lot"), attrs["material"])
        return Ingredient(attrs["material"], attrs["quantity"], lot)


class BenchCupRequest(RequestSerializer):
    """A cup: mixed by a recipe's version from its parts, and so much that was ready (thousandths)."""

    material = RowField(Material.objects.all(), help_text="What is in it.")
    version = RowField(RecipeVersion.objects.select_related("recipe__makes"), required=False, allow_null=True)
    parts = ListOf(child=BenchPartRequest(), required=False, default=list, max_length=MOST_PARTS)
    ready = serializers.IntegerField(
        min_value=0, max_value=LARGEST, default=0, help_text="From a jar or a bottle, thousandths."
    )

    lot = ChosenLotField(required=False, allow_null=True, help_text="That it came from.")

    def validate(self, attrs: dict[str, Any]) -> CupWork:
        lot = number_of(attrs.get("lot"), attrs["material"])
        return CupWork(attrs["material"], attrs.get("version"), attrs["parts"], attrs["ready"], lot)


class BenchDoseRequest(RequestSerializer):
    """What one surface takes of a cup, in thousandths of the base unit of what is in it."""

    cup = serializers.IntegerField(min_value=1, max_value=MOST_CUPS, help_text="1 is the first cup.")
    quantity = Thousandths()


class BenchLineRequest(RequestSerializer):
    """Surfaces that are poured alike. Pours are counted on over all lines."""

    surface = RowField(Material.objects.filter(kind=Kind.SURFACE))
    technique = RowField(Technique.objects.all())
    arm = serializers.CharField(required=False, max_length=60, allow_blank=True, default="")
    count = serializers.IntegerField(min_value=1, max_value=MOST_ON_A_LINE)
    surface_lot = ChosenLotField(required=False, allow_null=True)
    doses = ListOf(child=BenchDoseRequest(), allow_empty=False, max_length=MOST_CUPS)

    def validate(self, attrs: dict[str, Any]) -> LineWork:
        attrs["surface_lot"] = number_of(attrs.get("surface_lot"), attrs["surface"], field="surface_lot")
        doses = [(dose["cup"] - 1, dose["quantity"]) for dose in attrs.pop("doses")]
        return LineWork(doses=doses, **attrs)


class TouchRequest(RequestSerializer):
    """One touch: a pour (1 is the first) was poured or failed; or so much of a cup was spilled (thousandths)."""

    what = serializers.ChoiceField(choices=[kind.value for kind in TouchKind])
    pour = serializers.IntegerField(min_value=1, max_value=MOST_POURS, required=False)
    cup = serializers.IntegerField(min_value=1, max_value=MOST_CUPS, required=False)
    quantity = Thousandths(required=False)

    def validate(self, attrs: dict[str, Any]) -> Touch:
        pour, cup = attrs.get("pour"), attrs.get("cup")
        return Touch(
            TouchKind(attrs["what"]),
            pour=pour - 1 if pour else None,
            cup=cup - 1 if cup else None,
            quantity=attrs.get("quantity", 0),
        )


class WorkRequest(RequestSerializer):
    """What stood on the bench, as its document said or as it really was."""

    cups = ListOf(child=BenchCupRequest(), allow_empty=False, max_length=MOST_CUPS)
    lines = ListOf(child=BenchLineRequest(), allow_empty=False, max_length=MOST_LINES)


class BenchRequest(AskingRequest):
    """A bench that was worked through. Touches count in their order: after a spill a surface takes what is left."""

    plan = RowField(Plan.objects.all())
    held_on = serializers.DateField()
    minutes = serializers.IntegerField(min_value=0, max_value=MOST_MINUTES, default=0)
    leftover = serializers.ChoiceField(choices=Mix.Leftover.choices, default=Mix.Leftover.KEPT)
    work = WorkRequest()
    touches = ListOf(child=TouchRequest(), required=False, default=list, max_length=MOST_TOUCHES)
    confirm_gain = serializers.BooleanField(
        default=False, help_text="There was more in the bottles than recorded: the difference is added first."
    )

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        plan, confirm_gain, work = attrs.pop("plan"), attrs.pop("confirm_gain"), attrs.pop("work")
        return {"plan": plan, "confirm_gain": confirm_gain, "facts": BenchFacts(**work, **attrs)}


class BenchPartResponse(ResponseSerializer):
    """A part of a mix, in thousandths of its base unit."""

    material = serializers.IntegerField()
    quantity = serializers.IntegerField()
    lot = serializers.IntegerField(allow_null=True)


class BenchCupResponse(ResponseSerializer):
    """A cup as it is sent back."""

    material = serializers.IntegerField()
    version = serializers.IntegerField(allow_null=True)
    parts = BenchPartResponse(many=True)
    ready = serializers.IntegerField()
    lot = serializers.IntegerField(allow_null=True)


class BenchDoseResponse(ResponseSerializer):
    """What one surface takes of a cup."""

    cup = serializers.IntegerField()
    quantity = serializers.IntegerField()


class BenchLineResponse(ResponseSerializer):
    """Surfaces alike, as they are sent back."""

    surface = serializers.IntegerField()
    technique = serializers.IntegerField()
    arm = serializers.CharField()
    count = serializers.IntegerField()
    surface_lot = serializers.IntegerField(allow_null=True)
    doses = BenchDoseResponse(many=True)


class WorkResponse(ResponseSerializer):
    """What is sent back with the touches."""

    cups = BenchCupResponse(many=True)
    lines = BenchLineResponse(many=True)


class CupInWordsResponse(ResponseSerializer):
    """A cup by its label."""

    cup = serializers.CharField(source="label")
    material = NamedResponse()
    total = QuantityField("total", "material.measure")


class BenchStepResponse(ResponseSerializer):
    """One step. Cups and pours are counted from 1."""

    kind = serializers.ChoiceField(choices=[kind.value for kind in StepKind])
    cup = serializers.IntegerField(allow_null=True)
    pour = serializers.IntegerField(allow_null=True)
    text = serializers.CharField()


class BenchResponse(ResponseSerializer):
    """A plan as it is carried out: its cups, each step in words, and the work to be sent back with the touches."""

    plan = NamedResponse()
    cups = CupInWordsResponse(many=True)
    steps = BenchStepResponse(many=True)
    work = WorkResponse()
    cautions = serializers.ListField(child=serializers.CharField())
    mixing_sheet = serializers.CharField(
        help_text="Address of the same as a PDF, for ?paper=A4, A5 or Letter."
    )


class BenchLoggedResponse(ResponseSerializer):
    """The session that was logged, under the key that was sent."""

    key = serializers.CharField()
    session = serializers.IntegerField()
    address = serializers.CharField(help_text="Its page.")
    weighing = serializers.CharField(help_text="The page on which what ran off is weighed.")


class BenchViewSet(DetailViewSet):
    """The bench of a plan, by the plan's number."""

    request_serializer_class = BenchRequest
    has_key = True
    get_refusals = (409,)  # what was poured already has no bench any more

    def get_queryset(self) -> Any:
        return Session.objects.all() if self.action == "create" else Plan.objects.with_lines()

    def get_serializer_class(self) -> Any:
        return BenchLoggedResponse if self.action == "create" else BenchResponse

    def create(self, request: Request) -> Response:
        """Log what was done as the plan's session: all of it in one posting, or nothing."""
        return self.post_once(
            lambda body: log_bench(**body, submission=self.submission(on=body["facts"].held_on))
        )

    def details_of(self, row: Any) -> dict[str, Any]:
        if isinstance(row, Session):
            address = reverse("inventory:session", args=[row.pk])
            weighing = reverse("inventory:session-weigh", args=[row.pk])
            key = idempotency_key(self.request)
            return {"key": key, "session": row.pk, "address": address, "weighing": weighing}
        bench = open_bench(row, today=timezone.localdate())
        words = BenchWords(bench, current_studio(self.request._request))
        return {
            "plan": row,
            "cups": bench.cups,
            "steps": words.steps(),
            "work": bench.work,
            "cautions": words.cautions(),
            "mixing_sheet": reverse("inventory:mixing-sheet", args=[row.pk]),
        }


VIEWSETS = {"benches": BenchViewSet}
