"""Sessions for programs: a day's pouring, logged and read back; and its pours."""

from functools import partial
from typing import Any

from django.db.models import Count
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from inventory.errors import InventoryError
from inventory.ledger.api import ConfirmedField
from inventory.materials.models import Kind, Material
from inventory.plans.actions import pour_plan
from inventory.plans.models import Plan
from inventory.recipes.actions.mixes import MixFacts, density_of
from inventory.recipes.api.mixes import IngredientRequest, MixRequest, MixResponse
from inventory.recipes.models import Mix
from inventory.sessions.actions.sessions import Dose, PourFacts, SessionFacts, log_session
from inventory.sessions.actions.sets import LONGEST_SET_NAME, keep_as_set
from inventory.sessions.actions.weighings import WeighingFacts
from inventory.sessions.api.pours import ChargeResponse, PourAccountResponse
from inventory.sessions.filters import SessionFilter
from inventory.sessions.models import Pour, Session, Technique
from inventory.sessions.queries.densities import density_of_doses
from inventory.sessions.queries.session_costs import SessionAccount, account_of
from inventory.sessions.weighing import Readings, Verdict
from inventory.stock.api.lots import ChosenLotField, number_of
from studio.api.fields import (
    LONGEST_NOTES,
    MoneyResponseField,
    QuantityField,
    QuantityInput,
    ReversedField,
    RowField,
    RowNumbersField,
)
from studio.api.serializers import AskingRequest, ListOf, RequestSerializer, ResponseSerializer
from studio.api.viewsets import ReadViewSet, row_action
from studio.errors import InputError
from studio.values.quantities import Quantity
from studio.values.units import Measure

MOST_MIXES = 100
MOST_POURS = 2_000
MOST_DOSES = 100
MOST_MINUTES = 10_000


class DoseRequest(RequestSerializer):
    """Paint poured: from a mix of this session by its place in the list, or straight from the shelf."""

    mix = serializers.IntegerField(
        min_value=1, max_value=MOST_MIXES, required=False, help_text="1 is the first mix of this session."
    )
    material = RowField(Material.objects.all(), required=False)
    lot = ChosenLotField(required=False)
    quantity = QuantityInput()


class PourRequest(RequestSerializer):
    """One surface poured, or the failed pour that this one covers."""

    technique = RowField(Technique.objects.all())
    surface = RowField(Material.objects.filter(kind=Kind.SURFACE), required=False)
    surface_lot = ChosenLotField(required=False)
    over = RowField(Pour.objects.select_related("surface"), required=False)
    doses = ListOf(child=DoseRequest(), allow_empty=False, max_length=MOST_DOSES)
    run_off = QuantityInput(
        required=False,
        help_text="Part of what was poured, recorded beside it: a volume, or a mass by the density of the paint.",
    )
    outcome = serializers.ChoiceField(choices=Pour.Outcome.choices, default=Pour.Outcome.OPEN)
    arm = serializers.CharField(required=False, max_length=60, allow_blank=True, default="")
    notes = serializers.CharField(required=False, max_length=LONGEST_NOTES, allow_blank=True, default="")

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        attrs["surface_lot"] = number_of(attrs.get("surface_lot"), attrs.get("surface"), field="surface_lot")
        return attrs


class WeighingRequest(RequestSerializer):
    """What the scale showed for some pours together, vessels included: masses as text or exact."""

    pours = ListOf(
        child=serializers.IntegerField(min_value=1, max_value=MOST_POURS),
        allow_empty=False,
        max_length=MOST_POURS,
        help_text="1 is the first pour of this session.",
    )
    scale_step = QuantityInput(help_text="What the scale can tell apart, such as 1 g.")
    cups_before = QuantityInput(required=False)
    cups_after = QuantityInput(required=False)
    tray_before = QuantityInput(required=False)
    tray_after = QuantityInput(required=False)
    surfaces_before = QuantityInput(required=False)
    surfaces_after = QuantityInput(required=False)
    drips = QuantityInput(required=False, help_text="Caught beside the tray or wiped off: their mass alone.")
    minutes = serializers.IntegerField(
        min_value=0, max_value=MOST_MINUTES, required=False, help_text="From the first reading to the last."
    )

    def validate(self, attrs: dict[str, Any]) -> Any:
        pours = attrs.pop("pours")
        return WeighingFacts(tuple(number - 1 for number in pours), self._readings(attrs))

    def _readings(self, attrs: dict[str, Any]) -> Readings:
        minutes = attrs.pop("minutes", None)
        masses = {
            name: self.amount_in(name, given, Measure.MASS, allow_zero=True) for name, given in attrs.items()
        }
        return Readings(minutes=minutes, **masses)


class SessionMixRequest(MixRequest):
    """A mix of the session, and what became of the leftover."""

    leftover = serializers.ChoiceField(choices=Mix.Leftover.choices, default=Mix.Leftover.KEPT)


class SessionRequest(AskingRequest):
    """A session as it happened."""

    held_on = serializers.DateField()
    title = serializers.CharField(required=False, max_length=120, allow_blank=True, default="")
    minutes = serializers.IntegerField(min_value=0, max_value=MOST_MINUTES, default=0)
    temperature = serializers.IntegerField(min_value=-50, max_value=60, required=False, help_text="°C")
    humidity = serializers.IntegerField(
        min_value=0, max_value=100, required=False, help_text="% relative humidity"
    )
    notes = serializers.CharField(required=False, max_length=LONGEST_NOTES, allow_blank=True, default="")
    mixes = ListOf(child=SessionMixRequest(), required=False, default=list, max_length=MOST_MIXES)
    pours = ListOf(child=PourRequest(), required=False, default=list, max_length=MOST_POURS)
    sundries = ListOf(child=IngredientRequest(), required=False, default=list, max_length=MOST_MIXES)
    weighings = ListOf(child=WeighingRequest(), required=False, default=list, max_length=MOST_POURS)
    spills = ListOf(
        child=DoseRequest(),
        required=False,
        default=list,
        max_length=MOST_DOSES,
        help_text="Paint that never reached a surface: recorded as a loss of its own.",
    )
    confirm_gain = serializers.BooleanField(
        default=False, help_text="There was more in the bottles than recorded: the difference is added first."
    )
    plan = RowField(Plan.objects.all(), required=False, help_text="The plan that became this session.")

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        confirm_gain, plan = attrs.pop("confirm_gain"), attrs.pop("plan", None)
        mixes = [mix["facts"] for mix in attrs.pop("mixes")]
        pours = [self._pour(line, row, mixes) for line, row in enumerate(attrs.pop("pours"), start=1)]
        spills = [self._spill(line, row, mixes) for line, row in enumerate(attrs.pop("spills"), start=1)]
        facts = SessionFacts(mixes=mixes, pours=pours, spills=spills, **attrs)
        return {"facts": facts, "confirm_gain": confirm_gain, "plan": plan}

    def _pour(self, line: int, row: dict[str, Any], mixes: list[MixFacts]) -> PourFacts:
        try:
            doses = [self._dose(dose, mixes) for dose in row.pop("doses")]
            if "run_off" in row:
                row["run_off"] = self._run_off(row["run_off"], doses, mixes)
            return PourFacts(doses=doses, **row)
        except InputError as problem:
            raise problem.on_line(line, rows="pours") from None

    def _spill(self, line: int, row: dict[str, Any], mixes: list[MixFacts]) -> Dose:
        try:
            return self._dose(row, mixes)
        except InputError as problem:
            raise problem.on_line(line, rows="spills") from None

    def _run_off(self, typed: str | Quantity, doses: list[Dose], mixes: list[MixFacts]) -> int:
        """Its volume; a mass is turned into one by the density of what was poured."""
        needs_density = self.is_mass(typed)
        density = None
        if needs_density:
            try:
                density = density_of_doses(doses, mixes)
            except InventoryError as problem:
                raise InputError(str(problem), field="run_off") from None
        return self.amount_in("run_off", typed, Measure.VOLUME, density=density, allow_zero=True)

    def _dose(self, row: dict[str, Any], mixes: list[MixFacts]) -> Dose:
        mix, material = row.get("mix"), row.get("material")
        # A dose from a mix that is not there is refused with the rest of the session; until then it is any volume.
        facts = mixes[mix - 1] if mix and mix <= len(mixes) else None
        poured = facts.version.recipe.makes if facts else material
        measure = poured.measure if poured else Measure.VOLUME
        density = poured.density if poured else None
        if facts and self.is_mass(row["quantity"]):
            density = _density_or_none(facts)
        amount = self.amount_in("doses", row["quantity"], measure, density=density)
        lot = number_of(row.get("lot"), material)
        return Dose(amount, mix=mix - 1 if mix else None, material=material, lot=lot)


def _density_or_none(facts: MixFacts) -> int | None:
    """Density of that very mix; None where an ingredient has none, and the reader of amounts asks for it."""
    try:
        return density_of(facts)
    except InventoryError:
        return None


class SessionResponse(ResponseSerializer):
    """A session in a line."""

    id = serializers.IntegerField(source="pk")
    held_on = serializers.DateField()
    title = serializers.CharField()
    minutes = serializers.IntegerField()
    pour_count = serializers.IntegerField()
    posting = serializers.IntegerField(source="posting_id")
    is_reversed = ReversedField(source="posting")
    set_name = serializers.CharField(help_text="It is offered as a set under this name; empty if not.")


class SetRequest(RequestSerializer):
    """The name of a set; an empty one offers the session no longer."""

    set_name = serializers.CharField(max_length=LONGEST_SET_NAME, allow_blank=True)


class MixAccountResponse(ResponseSerializer):
    """One mix of the session: what went in, and what came of it."""

    mix = MixResponse()
    parts = ChargeResponse(many=True)
    made = QuantityField("made", "mix.lot.material.measure")
    poured = QuantityField("poured", "mix.lot.material.measure")
    residue = QuantityField("residue", "mix.lot.material.measure")
    thrown_away = QuantityField("thrown_away", "mix.lot.material.measure")
    spilled = QuantityField("spilled", "mix.lot.material.measure")
    cost = MoneyResponseField()


class BalanceResponse(ResponseSerializer):
    """Poured = ran off + stayed + gap. Without the surfaces weighed, what did not run off is taken to have stayed."""

    poured = QuantityField("poured", Measure.MASS)
    ran_off = QuantityField("ran_off", Measure.MASS)
    stayed = QuantityField("stayed", Measure.MASS)
    gap = serializers.IntegerField(help_text="Milligrams; below zero where more was found than was poured.")
    least_gap = serializers.IntegerField(help_text="Milligrams: from here to `most_gap` a gap is usual.")
    most_gap = serializers.IntegerField()
    verdict = serializers.ChoiceField(choices=[verdict.value for verdict in Verdict])


class WeighingResponse(ResponseSerializer):
    """What the scale showed for some pours together, and how it closes; null unless cups and tray were weighed."""

    pours = RowNumbersField()
    scale_step = QuantityField("scale_step", Measure.MASS)
    cups_before = QuantityField("cups_before", Measure.MASS, allow_null=True)
    cups_after = QuantityField("cups_after", Measure.MASS, allow_null=True)
    tray_before = QuantityField("tray_before", Measure.MASS, allow_null=True)
    tray_after = QuantityField("tray_after", Measure.MASS, allow_null=True)
    surfaces_before = QuantityField("surfaces_before", Measure.MASS, allow_null=True)
    surfaces_after = QuantityField("surfaces_after", Measure.MASS, allow_null=True)
    drips = QuantityField("drips", Measure.MASS, allow_null=True)
    minutes = serializers.IntegerField(allow_null=True)
    balance = BalanceResponse(allow_null=True)


class SessionDetailResponse(ResponseSerializer):
    """A session with its mixes and pours as the ledger has them."""

    session = SessionResponse()
    temperature = serializers.IntegerField(source="session.temperature", allow_null=True)
    humidity = serializers.IntegerField(source="session.humidity", allow_null=True)
    notes = serializers.CharField(source="session.notes")
    confirmed = ConfirmedField(source="session.posting")
    wage_per_hour = MoneyResponseField(source="rates.wage.value", allow_null=True, default=None)
    overhead_per_hour = MoneyResponseField(source="rates.overhead.value", allow_null=True, default=None)
    mixes = MixAccountResponse(many=True)
    pours = PourAccountResponse(many=True)
    weighings = WeighingResponse(source="session.weighings.all", many=True)
    cost = MoneyResponseField(help_text="Materials of the pours, cup residue included.")


class SessionViewSet(ReadViewSet):
    """Sessions, newest first."""

    queryset = (
        Session.objects.select_related("posting__reversed_by")
        .prefetch_related("weighings__pours")
        .annotate(pour_count=Count("pours"))
        .order_by("-held_on", "-pk")
    )
    serializer_class = SessionResponse
    detail_serializer_class = SessionDetailResponse
    request_serializer_class = SessionRequest
    filterset_class = SessionFilter
    has_key = True

    def create(self, request: Request) -> Response:
        """Log a session: all of it in one posting, or nothing."""
        return self.post_once(self._log)

    def _log(self, body: dict[str, Any]) -> Session:
        plan, facts = body["plan"], body["facts"]
        log = log_session if plan is None else partial(pour_plan, plan=plan)
        return log(
            facts=facts, confirm_gain=body["confirm_gain"], submission=self.submission(on=facts.held_on)
        )

    @row_action(url_path="set", request_serializer_class=SetRequest, has_key=False)
    def keep_set(self, request: Request, pk: int) -> Response:
        """Offer a session as a set under a name, or no longer. Sent again it changes nothing."""
        name = self.read_body()["set_name"]
        keep_as_set(self.get_object(), name, submission=self.submission())
        return self.answer(self.get_object())

    def details_of(self, row: Session) -> SessionAccount:
        account = account_of(row)
        account.read_recipes()
        # What the session has read once need not be read again for each of its mixes and pours.
        for made in account.mixes:
            made.mix.session, made.mix.posting = row, row.posting
        for poured in account.pours:
            poured.pour.session = row
        return account
