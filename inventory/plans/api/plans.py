"""Plans for programs: kept, listed, and each with its answer, or with what became of it."""

from dataclasses import dataclass
from typing import Any

from django.urls import reverse
from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from inventory.comparisons.queries.blinding import hidden_in
from inventory.ledger.models import Lot
from inventory.plans.actions import PlanFacts, PlanLineFacts, copy_plan, save_plan
from inventory.plans.filters import PlanFilter
from inventory.plans.models import MOST_ON_A_LINE, Plan, PlanLine
from inventory.plans.queries import Outcome, Promises, answer_of, outcome_of
from inventory.recipes.models import RecipeVersion
from inventory.sessions.api.stock_check import SetLineRequest, StockCheckResponse
from inventory.sessions.queries.planning import Answer
from inventory.shopping.queries import with_what_to_buy
from studio.api.fields import (
    LONGEST_NOTES,
    MillionthsField,
    MoneyResponseField,
    QuantityField,
    QuantityInput,
    RowField,
)
from studio.api.rows import deletion
from studio.api.schema import ENTITY_TAG, IF_MATCH
from studio.api.serializers import NamedResponse, RequestSerializer, ResponseSerializer
from studio.api.viewsets import ReadViewSet, change_seen, row_action
from studio.auditing.reference_rows import delete_row
from studio.errors import MeniscusError
from studio.values.units import Measure

MOST_LINES = 200
MOST_SOURCES = 500


class PlanLineRequest(SetLineRequest):
    """So many of one surface, poured by one technique in colours of their own. Shares are parts."""

    count = serializers.IntegerField(min_value=1, max_value=MOST_ON_A_LINE)
    arm = serializers.CharField(
        required=False,
        max_length=60,
        allow_blank=True,
        default="",
        help_text="In a comparison: what is different about these.",
    )
    poured = QuantityInput(required=False, help_text="On each; default: what the technique usually takes.")

    def validate(self, attrs: dict[str, Any]) -> PlanLineFacts:
        if "poured" in attrs:
            attrs["poured"] = self.amount_in("poured", attrs["poured"], Measure.VOLUME)
        # Shares are whole numbers on any scale; a plan keeps thousandths of a part.
        colours = [(colour["material"], colour["share"] * 1000) for colour in attrs.pop("colours")]
        return PlanLineFacts(colours=colours, **attrs)


class PlanRequest(RequestSerializer):
    """A set to be poured on a day."""

    name = serializers.CharField(max_length=120)
    planned_on = serializers.DateField()
    lines = serializers.ListSerializer[Any](child=PlanLineRequest(), allow_empty=False, max_length=MOST_LINES)
    extra_paint = MillionthsField(
        required=False, help_text="As a fraction of one; default: the studio's setting."
    )
    include_expired = serializers.BooleanField(default=False)
    notes = serializers.CharField(required=False, max_length=LONGEST_NOTES, allow_blank=True, default="")

    versions = serializers.ListField(
        child=RowField(RecipeVersion.objects.select_related("recipe")),
        required=False,
        max_length=MOST_SOURCES,
        help_text="Recipe versions to keep to, whatever is in force by then.",
    )
    lots = serializers.ListField(
        child=RowField(Lot.objects.all()),
        required=False,
        max_length=MOST_SOURCES,
        help_text="Lots to take first, one of a material.",
    )

    def validate(self, attrs: dict[str, Any]) -> PlanFacts:
        return PlanFacts(**attrs)


class PlanColourResponse(ResponseSerializer):
    """One colour of a line; its share in thousandths of a part."""

    material = NamedResponse()
    share = serializers.IntegerField()


class PlanLineResponse(ResponseSerializer):
    """So many of one surface."""

    surface = NamedResponse()
    count = serializers.IntegerField()
    technique = NamedResponse()
    arm = serializers.SerializerMethodField(help_text="Empty while a blind comparison hides it.")
    poured = QuantityField("poured", Measure.VOLUME, allow_null=True, help_text="On each, where it is set.")
    colours = PlanColourResponse(many=True)

    def get_arm(self, line: PlanLine) -> str:
        return "" if hidden_in(self.context).hides_plan(line.plan) else line.arm


class PlanSourceResponse(ResponseSerializer):
    """The recipe version that a material is mixed by, and the lot that it is taken from first."""

    material = NamedResponse()
    version = serializers.IntegerField(source="version_id", allow_null=True)
    version_number = serializers.IntegerField(source="version.number", allow_null=True, default=None)
    lot = serializers.IntegerField(source="lot_id", allow_null=True)


class PlanResponse(ResponseSerializer):
    """A plan. `session` is the one that it became."""

    id = serializers.IntegerField(source="pk")
    name = serializers.CharField()
    planned_on = serializers.DateField()
    is_poured = serializers.BooleanField()
    session = serializers.IntegerField(source="session_id", allow_null=True)
    lines = PlanLineResponse(many=True)
    sources = PlanSourceResponse(many=True, help_text="Recipe versions and lots that it keeps to.")


class MaterialComparisonResponse(ResponseSerializer):
    """What was planned of a material, and what was used."""

    material = NamedResponse()
    planned = QuantityField("planned", "material.measure")
    used = QuantityField("used", "material.measure")


class OutcomeResponse(ResponseSerializer):
    """A plan beside the session that it became."""

    pours_planned = serializers.IntegerField()
    pours = serializers.IntegerField()
    paint_planned = QuantityField("paint_planned", Measure.VOLUME, allow_null=True)
    paint = QuantityField("paint", Measure.VOLUME)
    cost_planned = MoneyResponseField(allow_null=True)
    cost = MoneyResponseField()
    materials = MaterialComparisonResponse(many=True)


@dataclass(frozen=True, slots=True)
class PlanDetails:
    """A plan with its answer while it waits, or a sentence that says why it has none; with its outcome afterwards."""

    plan: Plan
    answer: Answer | None
    problem: str
    outcome: Outcome | None


class PlanDetailResponse(ResponseSerializer):
    """A plan with its answer and cups while it waits to be poured, and with what became of it afterwards."""

    plan = PlanResponse()
    extra_paint = MillionthsField(source="plan.extra_paint", allow_null=True)
    include_expired = serializers.BooleanField(source="plan.include_expired")
    notes = serializers.CharField(source="plan.notes")
    bench = serializers.SerializerMethodField(help_text="Where its steps are, for programs.")
    mixing_sheet = serializers.SerializerMethodField(
        help_text="The mixing sheet as a PDF, for ?paper=A4, A5 or Letter, while it waits."
    )
    answer = StockCheckResponse(allow_null=True)
    problem = serializers.CharField(help_text="Why there is no answer, in words.")
    outcome = OutcomeResponse(allow_null=True)

    def get_bench(self, details: PlanDetails) -> str:
        return reverse("api-benches-detail", args=[details.plan.pk])

    def get_mixing_sheet(self, details: PlanDetails) -> str:
        return reverse("inventory:mixing-sheet", args=[details.plan.pk])


class PlanCopyRequest(RequestSerializer):
    """The day for which a plan is copied."""

    on = serializers.DateField()


class PlanViewSet(ReadViewSet):
    """Plans; those that wait to be poured unless asked otherwise."""

    queryset = Plan.objects.with_lines()
    serializer_class = PlanResponse
    detail_serializer_class = PlanDetailResponse
    request_serializer_class = PlanRequest
    filterset_class = PlanFilter
    has_key = True

    def create(self, request: Request) -> Response:
        """Keep a plan. What it needs is reserved until it is poured."""
        return self.post_once(lambda facts: save_plan(facts=facts, submission=self.submission()))

    @extend_schema(parameters=[ENTITY_TAG])
    def retrieve(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        """One plan, with an `ETag` for whoever changes it."""
        return self.tagged()

    @extend_schema(parameters=[ENTITY_TAG, IF_MATCH])
    @row_action(has_key=False)
    def change(self, request: Request, pk: int) -> Response:
        """Write a plan anew, all of it, as long as it is not poured. Sent again it changes nothing."""
        plan, facts = self.get_object(), self.read_body()
        save_plan(facts=facts, submission=self.submission(), plan=plan, seen=change_seen(request))
        return self.tagged()

    @action(detail=True, methods=["post"], request_serializer_class=PlanCopyRequest)
    def copy(self, request: Request, pk: int) -> Response:
        """Plan the same set once more, on a day, whatever became of the first."""
        plan = self.get_object()
        return self.post_once(lambda body: copy_plan(plan=plan, on=body["on"], submission=self.submission()))

    @extend_schema(request=None, parameters=[IF_MATCH])
    @deletion(url_path="delete")
    def remove(self, request: Request, pk: int) -> Response:
        """Delete a plan that is not poured: what it reserved is free again. Sent again there is none."""
        delete_row(self.get_object(), submission=self.submission(), seen=change_seen(request))
        return self.deleted()

    def details_of(self, row: Plan) -> PlanDetails:
        return details_of(row)


def details_of(plan: Plan) -> PlanDetails:
    """A plan with its answer, or with what became of it."""
    if plan.is_poured:
        return PlanDetails(plan, None, "", outcome_of(plan))
    today = timezone.localdate()
    try:
        promises = Promises(today)
        answer = answer_of(plan, today=today, promises=promises)
        answer = with_what_to_buy(answer, today, is_kept=True, promises=promises)
        return PlanDetails(plan, answer, "", None)
    except MeniscusError as problem:
        return PlanDetails(plan, None, str(problem), None)


VIEWSETS = {"plans": PlanViewSet}
