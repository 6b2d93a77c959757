"""Comparisons for programs: started, given pours, scored, finished, and read with what they show."""

from typing import Any

from django.db.models import Count
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from inventory.comparisons.actions.comparison_facts import (
    LONGEST_NAME,
    MOST_ARMS,
    MOST_CRITERIA,
    ArmFacts,
    ComparisonFacts,
    CriterionFacts,
)
from inventory.comparisons.actions.comparisons import (
    Placement,
    discard,
    finish,
    open_arms,
    place_pours,
    start_comparison,
)
from inventory.comparisons.actions.scoring import record_scores
from inventory.comparisons.api.results import hidden_results, shown_results
from inventory.comparisons.filters import ComparisonFilter
from inventory.comparisons.models import (
    ComparedPour,
    Comparison,
    ComparisonArm,
    Criterion,
    Judged,
    Scale,
    VariedChoice,
)
from inventory.sessions.models import Pour, Stage
from studio.accounts.models import User
from studio.accounts.permissions import IsOwner
from studio.api.fields import LONGEST_NOTES, MillionthsField, MoneyResponseField, RowField
from studio.api.rows import deletion
from studio.api.schema import ENTITY_TAG, IF_MATCH
from studio.api.serializers import RequestSerializer, ResponseSerializer
from studio.api.viewsets import ReadViewSet, change_seen, row_action
from studio.auditing.reference_rows import save_row
from studio.errors import InputError
from studio.preferences.formatting import Formatter
from studio.translation import _

MOST_POURS = 200


class ArmRequest(RequestSerializer):
    """One of the ways that are compared, and those of its pours that are there already."""

    name = serializers.CharField(max_length=LONGEST_NAME)
    pours = serializers.ListField(
        child=RowField(Pour.objects.select_related("session__posting__reversed_by")),
        required=False,
        default=list,
        max_length=MOST_POURS,
    )

    def validate(self, attrs: dict[str, Any]) -> ArmFacts:
        return ArmFacts(**attrs)


class ThousandthsField(serializers.DecimalField):
    """A score or a difference of scores, kept in thousandths."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(max_digits=15, decimal_places=3, **kwargs)

    def to_internal_value(self, data: Any) -> Any:
        return int(super().to_internal_value(data) * 1000)


class CriterionRequest(RequestSerializer):
    """What is judged, and on which scale. `margin` is the difference that would matter."""

    name = serializers.CharField(max_length=LONGEST_NAME)
    scale = serializers.ChoiceField(choices=Scale.choices, default=Scale.POINTS)
    lowest = ThousandthsField(required=False, help_text="Of points; 0 if left out.")
    highest = ThousandthsField(required=False, help_text="Of points; 10 if left out.")
    words = serializers.ListField(child=serializers.CharField(max_length=60), required=False, default=list)
    unit = serializers.CharField(max_length=20, required=False, allow_blank=True, default="")
    low_is_better = serializers.BooleanField(default=False)
    margin = ThousandthsField(required=False, help_text="1 if left out, 10 per 100 cm².")

    def validate(self, attrs: dict[str, Any]) -> CriterionFacts:
        return CriterionFacts(**attrs)


class ComparisonRequest(RequestSerializer):
    """A comparison to start."""

    name = serializers.CharField(max_length=120)
    varied = serializers.ChoiceField(choices=VariedChoice.choices)
    judged = serializers.ChoiceField(choices=Judged.choices, default=Judged.BOTH)
    is_blind = serializers.BooleanField(default=False)
    judges = serializers.ListField(
        child=RowField(User.objects.filter(is_active=True)), required=False, default=list
    )
    notes = serializers.CharField(max_length=LONGEST_NOTES, required=False, allow_blank=True, default="")
    arms = serializers.ListSerializer[Any](child=ArmRequest(), allow_empty=False, max_length=MOST_ARMS)
    criteria = serializers.ListSerializer[Any](
        child=CriterionRequest(), allow_empty=False, max_length=MOST_CRITERIA
    )

    def validate(self, attrs: dict[str, Any]) -> ComparisonFacts:
        return ComparisonFacts(**attrs)


class PlacementRequest(RequestSerializer):
    """A pour put into an arm, or what is noted of one that is there. `left_out` says why it is not judged."""

    arm = RowField(ComparisonArm.objects.all())
    pour = RowField(Pour.objects.select_related("session__posting__reversed_by"))
    hands = serializers.CharField(max_length=60, required=False, allow_blank=True, default="")
    colour_order = serializers.CharField(max_length=120, required=False, allow_blank=True, default="")
    left_out = serializers.CharField(max_length=120, required=False, allow_blank=True, default="")
    poured_at = serializers.TimeField(required=False, allow_null=True, default=None)

    def validate(self, attrs: dict[str, Any]) -> Placement:
        return Placement(**attrs)


class PlacementsRequest(RequestSerializer):
    """Pours for the arms of a comparison."""

    pours = serializers.ListSerializer[Any](
        child=PlacementRequest(), allow_empty=False, max_length=MOST_POURS
    )


class ScoreRequest(RequestSerializer):
    """One judge's score of one pour; of a scale of words, the place of the word from 0."""

    pour = RowField(ComparedPour.objects.select_related("comparison"))
    criterion = RowField(Criterion.objects.all())
    stage = serializers.ChoiceField(choices=Stage.choices)
    judge = RowField(User.objects.filter(is_active=True))
    value = ThousandthsField()


class FinishRequest(RequestSerializer):
    """Ends the scoring. `despite_missing` ends it although scores are missing."""

    despite_missing = serializers.BooleanField(default=False)


class ComparisonResponse(ResponseSerializer):
    """A comparison."""

    id = serializers.IntegerField(source="pk")
    name = serializers.CharField()
    varied = serializers.ChoiceField(choices=VariedChoice.choices)
    judged = serializers.ChoiceField(choices=Judged.choices)
    is_blind = serializers.BooleanField()
    started_on = serializers.DateField()
    finished_at = serializers.DateTimeField(allow_null=True)
    opened_at = serializers.DateTimeField(
        allow_null=True, help_text="When the arms of a blind one were shown before its end."
    )
    opened_by = serializers.IntegerField(source="opened_by_id", allow_null=True)
    pours = serializers.IntegerField(source="pour_count")


class CriterionResponse(ResponseSerializer):
    """A criterion."""

    id = serializers.IntegerField(source="pk")
    name = serializers.CharField()
    scale = serializers.ChoiceField(choices=Scale.choices)
    words = serializers.ListField(source="word_list", child=serializers.CharField())
    unit = serializers.CharField()
    low_is_better = serializers.BooleanField()


class ComparedPourResponse(ResponseSerializer):
    """A pour in the comparison. Without its arm and number while a blind comparison hides them."""

    id = serializers.IntegerField(source="pk")
    wet_code = serializers.CharField()
    dry_code = serializers.CharField()
    left_out = serializers.CharField()
    arm = serializers.IntegerField(source="arm_id", allow_null=True)
    pour = serializers.IntegerField(source="pour_id", allow_null=True)

    def to_representation(self, instance: Any) -> Any:
        answer = super().to_representation(instance)
        if not instance.comparison.shows_arms:
            answer["arm"] = answer["pour"] = None
        return answer


class ArmResultResponse(ResponseSerializer):
    """One arm, and what came of it once the arms may be seen."""

    id = serializers.IntegerField()
    name = serializers.CharField(help_text="Empty while it is hidden; the arms stand as they were sent.")
    pours = serializers.IntegerField(allow_null=True)
    good = serializers.IntegerField(allow_null=True)
    failed = serializers.IntegerField(allow_null=True)
    run_off_share = MillionthsField(allow_null=True)
    minutes_each = serializers.IntegerField(allow_null=True)
    cost_per_good_pour = MoneyResponseField(allow_null=True)
    scores = serializers.DictField(child=serializers.CharField(), help_text="Mean score by criterion.")


class StatementResponse(ResponseSerializer):
    """What the scores show of one criterion and two arms."""

    criterion = serializers.CharField()
    finding = serializers.CharField()
    text = serializers.CharField()


class ComparisonDetailResponse(ComparisonResponse):
    """A comparison with its criteria, pours, and what it shows once the arms may be seen."""

    notes = serializers.CharField()
    criteria = CriterionResponse(many=True)
    judges = serializers.ListField(child=serializers.IntegerField())
    compared = ComparedPourResponse(many=True)
    arms = ArmResultResponse(many=True)
    fairness = serializers.CharField(allow_null=True)
    fairness_text = serializers.CharField()
    differences = serializers.ListField(child=serializers.CharField())
    statements = StatementResponse(many=True)


class ComparisonNameRequest(RequestSerializer):
    """Its name and its notes; what it compares stays."""

    name = serializers.CharField(max_length=120, required=False)
    notes = serializers.CharField(max_length=LONGEST_NOTES, required=False, allow_blank=True)


class ComparisonViewSet(ReadViewSet):
    """Comparisons, newest first unless sorted otherwise."""

    queryset = (
        Comparison.objects.annotate(pour_count=Count("pours", distinct=True))
        .prefetch_related("arms", "criteria", "judges")
        .order_by("-started_on", "-pk")
    )
    serializer_class = ComparisonResponse
    detail_serializer_class = ComparisonDetailResponse
    request_serializer_class = ComparisonRequest
    filterset_class = ComparisonFilter
    has_key = True

    def create(self, request: Request) -> Response:
        """Start a comparison with its arms, criteria and judges."""
        return self.post_once(lambda facts: start_comparison(facts=facts, submission=self.submission()))

    @extend_schema(parameters=[ENTITY_TAG])
    def retrieve(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        """One comparison, with an `ETag` for whoever renames it."""
        return self.tagged()

    @extend_schema(parameters=[ENTITY_TAG, IF_MATCH])
    @row_action(request_serializer_class=ComparisonNameRequest, has_key=False)
    def change(self, request: Request, pk: int) -> Response:
        """Rename a comparison, or note something. What is left out stays. Sent again it changes nothing."""
        row = Comparison.objects.get(pk=self.get_object().pk)
        for name, value in self.read_body().items():
            setattr(row, name, value)
        save_row(row, submission=self.submission(), seen=change_seen(request))
        return self.tagged()

    @extend_schema(request=None)
    @deletion(url_path="delete")
    def remove(self, request: Request, pk: int) -> Response:
        """Delete a comparison in which nothing was scored. Its pours stay. Sent again there is none."""
        discard(comparison=self.get_object(), submission=self.submission())
        return self.deleted()

    @row_action(request_serializer_class=PlacementsRequest, has_key=False)
    def pours(self, request: Request, pk: int) -> Response:
        """Put pours into arms, or change what is noted of them. Sent again it changes nothing."""
        comparison, body = self.get_object(), self.read_body()
        if any(each.arm.comparison_id != comparison.pk for each in body["pours"]):
            raise InputError(_("Choose an arm of this comparison."), field="pours")
        place_pours(comparison=comparison, placements=body["pours"], submission=self.submission())
        return self.answer(self.get_object())

    @row_action(request_serializer_class=ScoreRequest, has_key=False)
    def scores(self, request: Request, pk: int) -> Response:
        """Record one judge's score of one pour. Sent again it changes nothing; another value comes after it."""
        comparison, body = self.get_object(), self.read_body()
        compared, criterion = body["pour"], body["criterion"]
        if {compared.comparison_id, criterion.comparison_id} != {comparison.pk}:
            raise InputError(_("Choose a pour and a criterion of this comparison."), field="pour")
        record_scores(
            compared=compared,
            stage=body["stage"],
            judge=body["judge"],
            values={criterion: body["value"]},
            submission=self.submission(),
        )
        return self.answer(self.get_object())

    @row_action(request_serializer_class=FinishRequest, has_key=False)
    def finish(self, request: Request, pk: int) -> Response:
        """End the scoring, and open the codes of a blind comparison."""
        body = self.read_body()
        finish(comparison=self.get_object(), submission=self.submission(), **body)
        return self.answer(self.get_object())

    @row_action(permission_classes=[IsOwner], request_serializer_class=RequestSerializer, has_key=False)
    def open(self, request: Request, pk: int) -> Response:
        """Show the arms of a blind comparison before its end. Who did is kept; sent again it is refused."""
        self.read_body()
        open_arms(comparison=self.get_object(), submission=self.submission())
        return self.answer(self.get_object())

    def details_of(self, row: Comparison) -> dict[str, Any]:
        formatter: Formatter = self.get_serializer_context()["formatter"]
        facts: dict[str, Any] = {
            **{name: getattr(row, name) for name in ("pk", "name", "varied", "judged", "is_blind")},
            **{name: getattr(row, name) for name in ("started_on", "finished_at", "opened_at")},
            **{name: getattr(row, name) for name in ("opened_by_id", "pour_count", "notes")},
            "criteria": row.criteria.all(),
            "judges": [judge.pk for judge in row.judges.all()],
            "compared": row.pours.select_related("comparison").order_by("pk"),
        }
        return facts | (shown_results(row, formatter) if row.shows_arms else hidden_results(row))
