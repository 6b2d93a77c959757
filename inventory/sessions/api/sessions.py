"""Sessions: logging a day's pouring, and reading it back."""

from typing import Any

from django.db.models import Count
from django.shortcuts import get_object_or_404
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from inventory.ledger.api.base import LONGEST_NOTES, Days, ShelfView, between
from inventory.materials.models import Kind, Material
from inventory.recipes.actions.mixes import MixFacts
from inventory.recipes.api.mixes import IngredientRequest, MixRequest, MixResponse
from inventory.recipes.models import Mix
from inventory.sessions.actions.sessions import Dose, PourFacts, SessionFacts, log_session
from inventory.sessions.api.pours import ChargeResponse, PourResponse
from inventory.sessions.models import Pour, Session, Technique
from inventory.sessions.queries.session_costs import SessionAccount, account_of
from inventory.stock.api.lots import ChosenLot, refuse_other_lot
from studio.api.fields import (
    Amount,
    MoneyAmount,
    QuantityRequest,
    QuantityText,
    RequestSerializer,
    ResponseSerializer,
    RowNumber,
    WholeNumber,
)
from studio.api.views import KEY_HEADER, REFUSED, REFUSED_TO_WRITE
from studio.translation import _
from studio.values.units import Measure

MOST_MIXES = 40
MOST_POURS = 100
MOST_DOSES = 20
MOST_MINUTES = 10_000


class DoseRequest(RequestSerializer):
    """Paint poured: from a mix of this session by its place in the list, or straight from the shelf."""

    mix = WholeNumber(
        least=1, most=MOST_MIXES, required=False, help_text="1 is the first mix of this session."
    )
    material = RowNumber(Material.objects.all(), required=False)
    lot = ChosenLot(required=False)
    quantity = QuantityText()

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        if ("mix" in attrs) == ("material" in attrs):
            raise serializers.ValidationError(_("Choose either a mix of this session or a material."))
        if "lot" in attrs and "material" not in attrs:
            raise serializers.ValidationError(
                {"lot": [_("A lot can be chosen only for a material from stock.")]}
            )
        attrs["lot"] = refuse_other_lot(attrs.get("lot"), attrs.get("material"))
        return attrs


class PourRequest(QuantityRequest):
    """One surface poured, or the failed pour that this one covers."""

    technique = RowNumber(Technique.objects.all())
    surface = RowNumber(Material.objects.filter(kind=Kind.SURFACE), required=False)
    surface_lot = ChosenLot(required=False)
    over = RowNumber(Pour.objects.select_related("surface"), required=False)
    doses = serializers.ListSerializer[Any](child=DoseRequest(), allow_empty=False, max_length=MOST_DOSES)
    run_off = QuantityText(required=False, help_text="Part of what was poured, recorded beside it.")
    outcome = serializers.ChoiceField(choices=Pour.Outcome.choices, default=Pour.Outcome.GOOD)
    arm = serializers.CharField(required=False, max_length=60, allow_blank=True, default="")
    notes = serializers.CharField(required=False, max_length=LONGEST_NOTES, allow_blank=True, default="")

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        if ("surface" in attrs) == ("over" in attrs):
            raise serializers.ValidationError(_("Choose a surface, or the failed pour that it covers."))
        attrs["surface_lot"] = refuse_other_lot(attrs.get("surface_lot"), attrs.get("surface"))
        if "run_off" in attrs:
            attrs["run_off"] = self.amount_in("run_off", attrs["run_off"], Measure.VOLUME, allow_zero=True)
        return attrs


class SessionMixRequest(MixRequest):
    """A mix of the session, and what became of the rest of it."""

    leftover = serializers.ChoiceField(choices=Mix.Leftover.choices, default=Mix.Leftover.KEPT)


class SessionRequest(QuantityRequest):
    """A session as it happened."""

    held_on = serializers.DateField()
    title = serializers.CharField(required=False, max_length=120, allow_blank=True, default="")
    minutes = WholeNumber(most=MOST_MINUTES, default=0)
    temperature = WholeNumber(least=-50, most=60, required=False, help_text="°C")
    humidity = WholeNumber(most=100, required=False, help_text="% relative humidity")
    notes = serializers.CharField(required=False, max_length=LONGEST_NOTES, allow_blank=True, default="")
    mixes = serializers.ListSerializer[Any](
        child=SessionMixRequest(), required=False, default=list, max_length=MOST_MIXES
    )
    pours = serializers.ListSerializer[Any](
        child=PourRequest(), required=False, default=list, max_length=MOST_POURS
    )
    sundries = serializers.ListSerializer[Any](
        child=IngredientRequest(), required=False, default=list, max_length=MOST_MIXES
    )
    confirm_gain = serializers.BooleanField(
        default=False, help_text="There was more in the bottles than recorded: the difference is added first."
    )

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        mixes = [mix["facts"] for mix in attrs["mixes"]]
        attrs["facts"] = SessionFacts(
            held_on=attrs["held_on"],
            mixes=mixes,
            pours=[self._pour(pour, mixes) for pour in attrs["pours"]],
            sundries=[item["used"] for item in attrs["sundries"]],
            minutes=attrs["minutes"],
            title=attrs["title"],
            temperature=attrs.get("temperature"),
            humidity=attrs.get("humidity"),
            notes=attrs["notes"],
        )
        return attrs

    def _pour(self, said: dict[str, Any], mixes: list[MixFacts]) -> PourFacts:
        return PourFacts(
            technique=said["technique"],
            doses=[self._dose(dose, mixes) for dose in said["doses"]],
            surface=said.get("surface"),
            surface_lot=said["surface_lot"],
            over=said.get("over"),
            run_off=said.get("run_off"),
            outcome=said["outcome"],
            arm=said["arm"],
            notes=said["notes"],
        )

    def _dose(self, said: dict[str, Any], mixes: list[MixFacts]) -> Dose:
        if "mix" not in said:
            quantity = self.amount_of("pours", said["quantity"], said["material"])
            return Dose(quantity, material=said["material"], lot=said["lot"])
        if said["mix"] > len(mixes):
            raise serializers.ValidationError(
                {"pours": [_("This session has no mix {number}.", number=said["mix"])]}
            )
        made = mixes[said["mix"] - 1].version.recipe.makes
        return Dose(self.amount_of("pours", said["quantity"], made), mix=said["mix"] - 1)


class SessionResponse(ResponseSerializer):
    """A session in a line."""

    id = serializers.IntegerField(source="pk")
    held_on = serializers.DateField()
    title = serializers.CharField()
    minutes = serializers.IntegerField()
    pour_count = serializers.IntegerField()
    posting = serializers.IntegerField(source="posting_id")
    is_reversed = serializers.SerializerMethodField()

    def get_is_reversed(self, session: Session) -> bool:
        return hasattr(session.posting, "reversed_by")


class MixAccountResponse(ResponseSerializer):
    """One mix of the session: what went in, and what came of it."""

    mix = MixResponse()
    parts = ChargeResponse(many=True)
    made = Amount("made", "mix.lot.material.measure")
    poured = Amount("poured", "mix.lot.material.measure")
    residue = Amount("residue", "mix.lot.material.measure")
    thrown_away = Amount("thrown_away", "mix.lot.material.measure")
    cost = MoneyAmount()


class PourAccountResponse(ResponseSerializer):
    """One pour of the session and every line charged to it."""

    pour = PourResponse()
    lines = ChargeResponse(many=True)
    cost = MoneyAmount()


class SessionDetailResponse(ResponseSerializer):
    """A session with its mixes and pours as the ledger has them."""

    session = SessionResponse()
    temperature = serializers.IntegerField(source="session.temperature", allow_null=True)
    humidity = serializers.IntegerField(source="session.humidity", allow_null=True)
    notes = serializers.CharField(source="session.notes")
    wage_per_hour = MoneyAmount(source="session.wage_per_hour")
    overhead_per_hour = MoneyAmount(source="session.overhead_per_hour")
    mixes = MixAccountResponse(many=True)
    pours = PourAccountResponse(many=True)
    cost = MoneyAmount(help_text="Materials of the pours, cup residue included.")


class SessionList(ShelfView):
    query = Days
    is_list = True

    @extend_schema(
        operation_id="sessions_list",
        parameters=[Days],
        responses={200: SessionResponse(many=True), **REFUSED},
    )
    def get(self, request: Request) -> Response:
        """Sessions, newest first."""
        return self.paged(SessionResponse, between(sessions(), "held_on", self.asked))

    @extend_schema(
        operation_id="sessions_log",
        parameters=[KEY_HEADER],
        request=SessionRequest,
        responses={201: SessionDetailResponse, 200: SessionDetailResponse, **REFUSED_TO_WRITE},
    )
    def post(self, request: Request) -> Response:
        """Log a session: all of it in one posting, or nothing."""
        key, said = self.key, self.said(SessionRequest)
        status = self.status_for(key)
        made = log_session(
            facts=said["facts"], submission=self.submission(key=key), confirm_gain=said["confirm_gain"]
        )
        return self.one(SessionDetailResponse, _account(made.pk), status=status)


class SessionDetail(ShelfView):
    @extend_schema(operation_id="sessions_read", responses={200: SessionDetailResponse, **REFUSED})
    def get(self, request: Request, pk: int) -> Response:
        """One session with its mixes, pours and costs."""
        return self.one(SessionDetailResponse, _account(pk))


def sessions() -> Any:
    """Sessions with everything their shape shows."""
    found = Session.objects.select_related("posting__reversed_by").annotate(pour_count=Count("pours"))
    return found.order_by("-held_on", "-pk")


def _account(pk: int) -> SessionAccount:
    session: Session = get_object_or_404(sessions(), pk=pk)
    account = account_of(session)
    # What the session has read once need not be read again for each of its mixes and pours.
    for made in account.mixes:
        made.mix.session, made.mix.posting = session, session.posting
    for poured in account.pours:
        poured.pour.session = session
    return account
