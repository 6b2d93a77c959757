"""Techniques with the paint they take, flaws, and pours with how they were judged, for programs."""

from typing import Any

from django.utils.translation import gettext_lazy
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from inventory.comparisons.queries.blinding import hidden_in
from inventory.recipes.api.recipes import FavouriteRequest
from inventory.sessions.actions.judging import JudgementFacts, judge_pours
from inventory.sessions.actions.pours import amend_pour
from inventory.sessions.filters import PourFilter
from inventory.sessions.models import Flaw, Pour, Stage, Technique
from inventory.sessions.queries.paint_per_area import TechniquePaint, paint_of
from inventory.sessions.queries.pour_history import cost_corrections_of
from inventory.sessions.queries.session_costs import pour_account
from studio.accounts.permissions import IsOwner
from studio.api.fields import (
    LONGEST_NOTES,
    MoneyResponseField,
    QuantityField,
    QuantityInput,
    ReversedField,
    RowField,
)
from studio.api.rows import RowRequest, RowsViewSet
from studio.api.schema import ENTITY_TAG, IF_MATCH
from studio.api.serializers import NamedResponse, RequestSerializer, ResponseSerializer
from studio.api.viewsets import ListViewSet, ReadViewSet, change_seen, row_action
from studio.auditing.reference_rows import set_columns
from studio.values.units import Measure

MOST_COVERAGE = 100_000  # microlitres per cm²: a layer of a metre


class TechniqueResponse(NamedResponse):
    """One way of pouring."""

    coverage = serializers.IntegerField(help_text="Microlitres per cm², run-off included.")
    source = serializers.CharField(help_text="Where the figure comes from.")  # type: ignore[assignment]
    learn_from = serializers.DateField(allow_null=True, help_text="Earlier pours do not count.")
    is_favourite = serializers.BooleanField(help_text="Offered first.")


class CountedPourResponse(ResponseSerializer):
    """A pour that the technique's figure was learned from, and what those before it would have foretold."""

    id = serializers.IntegerField(source="pour.pk")
    label = serializers.CharField(source="pour.label")  # type: ignore[assignment]
    held_on = serializers.DateField(source="pour.session.held_on")
    poured = QuantityField("pour.poured", Measure.VOLUME, help_text="Run-off included.")
    expected = QuantityField("expected", Measure.VOLUME)


class SizePaintResponse(ResponseSerializer):
    """One size of surface: eight times in ten the next pour takes between `low` and `high`."""

    height = QuantityField("size.height", Measure.LENGTH)
    width = QuantityField("size.width", Measure.LENGTH)
    is_round = serializers.BooleanField(source="size.round")
    area = QuantityField("area", Measure.AREA)
    rate = serializers.IntegerField(
        source="estimate.value", help_text="Microlitres per cm², run-off included."
    )
    expected = QuantityField("expected", Measure.VOLUME)
    low = QuantityField("low", Measure.VOLUME)
    high = QuantityField("high", Measure.VOLUME)
    pours = CountedPourResponse(many=True)


class TechniqueDetailResponse(ResponseSerializer):
    """One technique, and the paint it takes by size, learned from its good pours."""

    technique = TechniqueResponse()
    sizes = SizePaintResponse(many=True)


class TechniqueRequest(RowRequest):
    """A way of pouring, and the paint it usually takes."""

    coverage = serializers.IntegerField(
        min_value=1, max_value=MOST_COVERAGE, help_text="Microlitres per cm², run-off included."
    )

    class Meta:
        model = Technique
        fields = ("name", "coverage", "source", "learn_from", "is_favourite")


class TechniqueViewSet(RowsViewSet, ReadViewSet):
    """Techniques by name."""

    request_serializer_class = TechniqueRequest
    row_model = Technique
    in_use = gettext_lazy("Only a technique that nothing was poured with can be deleted.")

    queryset = Technique.objects.order_by("name", "pk")
    serializer_class = TechniqueResponse
    detail_serializer_class = TechniqueDetailResponse

    @row_action(permission_classes=[IsOwner], request_serializer_class=FavouriteRequest)
    def favourite(self, request: Request, pk: int) -> Response:
        """Offer a technique first, or no longer. Sent again it changes nothing."""
        technique, body = self.get_object(), self.read_body()
        return self.answer(set_columns(technique, submission=self.submission(), **body))

    def details_of(self, row: Technique) -> TechniquePaint:
        return paint_of(row)


class PourResponse(ResponseSerializer):
    """One pour, by its number."""

    id = serializers.IntegerField(source="pk")
    label = serializers.CharField()  # type: ignore[assignment]
    session = serializers.IntegerField(source="session_id")
    number = serializers.IntegerField()
    surface = NamedResponse()
    over = serializers.IntegerField(source="over_id", allow_null=True)
    technique = NamedResponse()
    area = QuantityField("area", Measure.AREA)
    poured = QuantityField("poured", Measure.VOLUME, help_text="Run-off included.")
    run_off = QuantityField("run_off", Measure.VOLUME, allow_null=True)
    outcome = serializers.ChoiceField(choices=Pour.Outcome.choices)
    thrown_away_by = serializers.IntegerField(
        allow_null=True, help_text="The posting by which it was thrown away; null while it is there."
    )
    arm = serializers.SerializerMethodField(help_text="Empty while a blind comparison hides it.")
    notes = serializers.CharField()
    is_reversed = ReversedField(source="session.posting")

    def get_arm(self, pour: Pour) -> str:
        return hidden_in(self.context).arm_of(pour)


class ChargeResponse(ResponseSerializer):
    """So much of one material from one lot; no lot for tap water and the like."""

    material = NamedResponse()
    lot = serializers.IntegerField(source="source_lot.pk", allow_null=True)
    label = serializers.CharField(source="source_lot.label", allow_null=True)  # type: ignore[assignment]
    quantity = QuantityField("quantity", "material.measure")
    role = serializers.CharField()
    posting = serializers.IntegerField(source="posting.number")
    money = MoneyResponseField()


class JudgementResponse(ResponseSerializer):
    """One judgement; the latest of its stage counts."""

    stage = serializers.ChoiceField(choices=Stage.choices)
    outcome = serializers.ChoiceField(choices=Pour.Outcome.choices)
    flaws = serializers.ListField(source="flaw_names", child=serializers.CharField())
    notes = serializers.CharField()
    judged_on = serializers.DateField()


class PourAccountResponse(ResponseSerializer):
    """One pour and every line charged to it."""

    pour = PourResponse()
    lines = ChargeResponse(many=True)
    cost = MoneyResponseField()


class CostCorrectionResponse(ResponseSerializer):
    """A posting that changed what materials had cost."""

    posting = serializers.IntegerField(source="posting.number")
    corrects = serializers.IntegerField(source="posting.corrects_id", allow_null=True)
    recorded_at = serializers.DateTimeField(source="posting.recorded_at")
    recorded_by = serializers.CharField(source="posting.recorded_by.username")
    note = serializers.CharField(source="posting.note")
    before = MoneyResponseField()
    after = MoneyResponseField()


class PourDetailResponse(PourAccountResponse):
    """One pour and what it took, corrections of cost included."""

    rate = serializers.IntegerField(help_text="Microlitres poured per cm², run-off included.")
    judgements = JudgementResponse(source="pour.judgements", many=True)
    corrections = CostCorrectionResponse(many=True, help_text="What was corrected since, oldest first.")


class JudgementRequest(RequestSerializer):
    """How a pour turned out, wet or dry, and what was wrong with it."""

    outcome = serializers.ChoiceField(choices=Pour.Outcome.choices, help_text="Anything but not judged.")
    stage = serializers.ChoiceField(choices=Stage.choices)
    flaws = serializers.ListField(child=RowField(Flaw.objects.all()), required=False, default=list)
    notes = serializers.CharField(required=False, max_length=300, allow_blank=True, default="")


class FlawRequest(RowRequest):
    """What can go wrong with a pour, in the studio's own words."""

    class Meta:
        model = Flaw
        fields = ("name",)


class FlawViewSet(RowsViewSet, ListViewSet):
    """What can go wrong with a pour."""

    request_serializer_class = FlawRequest
    row_model = Flaw
    in_use = gettext_lazy("Only a flaw that no judgement names can be deleted.")

    queryset = Flaw.objects.order_by("name", "pk")
    serializer_class = NamedResponse


class PourChangeRequest(RequestSerializer):
    """What is learnt about a pour after its session."""

    run_off = QuantityInput(required=False, allow_null=True, help_text="A volume; part of what was poured.")
    notes = serializers.CharField(required=False, allow_blank=True, max_length=LONGEST_NOTES)

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        if attrs.get("run_off") is not None:
            attrs["run_off"] = self.amount_in("run_off", attrs["run_off"], Measure.VOLUME, allow_zero=True)
        return attrs


class PourViewSet(ReadViewSet):
    """Pours, newest session first."""

    queryset = (
        Pour.objects.with_thrown_away()
        .select_related("surface", "technique", "session__posting__reversed_by")
        .order_by("-session__held_on", "-session_id", "number")
    )
    serializer_class = PourResponse
    detail_serializer_class = PourDetailResponse
    filterset_class = PourFilter

    def details_of(self, row: Pour) -> dict[str, Any]:
        account = pour_account(row)
        return {
            "pour": row,
            "lines": account.lines,
            "cost": account.cost,
            "rate": account.rate,
            "corrections": cost_corrections_of([row]),
        }

    @extend_schema(parameters=[ENTITY_TAG])
    def retrieve(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        """One pour, with an `ETag` for whoever adds what is learnt of it."""
        return self.tagged()

    @extend_schema(parameters=[ENTITY_TAG, IF_MATCH])
    @row_action(request_serializer_class=PourChangeRequest)
    def change(self, request: Request, pk: int) -> Response:
        """Set run-off and notes. What is left out stays. Sent again it changes nothing."""
        pour = self.get_object()
        learnt = {"run_off": pour.run_off, "notes": pour.notes} | self.read_body()
        amend_pour(pour=pour, submission=self.submission(), seen=change_seen(request), **learnt)
        return self.tagged()

    @row_action(request_serializer_class=JudgementRequest)
    def judge(self, request: Request, pk: int) -> Response:
        """Record how a pour turned out. Sent again it changes nothing; another judgement comes after it."""
        facts = JudgementFacts(pour=self.get_object(), **self.read_body())
        judge_pours(judgements=[facts], submission=self.submission())
        return self.answer(self.get_object())
