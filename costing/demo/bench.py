"""Sessions of the demo's year as they are logged, the home-made medium that must be there before, and what failed."""

from collections.abc import Sequence
from dataclasses import replace
from functools import partial
from itertools import count

from django.db.models import Sum

from costing.demo.agenda import Agenda, Hour
from costing.demo.comparing import compare_orders
from costing.demo.needs import sundries_of
from costing.demo.plan import COMPARISON, PlannedPour, PlannedSession
from costing.demo.recipes import SECOND_TIDE_BLUE
from costing.demo.saved_plans import AHEAD, plan_session
from costing.demo.setting_up import Loft, parts_of
from costing.demo.weighing import weighed
from costing.demo.works import Works
from inventory.ledger.balances import in_work
from inventory.ledger.models import Lot, LotBalance
from inventory.plans.actions import pour_plan
from inventory.plans.models import Plan
from inventory.recipes.actions.batches import make_mix
from inventory.recipes.actions.mixes import Ingredient, MixFacts, planned
from inventory.recipes.actions.recipes import write_version
from inventory.recipes.models import Basis, Recipe
from inventory.sessions.actions.judging import JudgementFacts, judge_pours
from inventory.sessions.actions.sessions import Dose, PourFacts, SessionFacts, log_session
from inventory.sessions.actions.throwing_away import ThrowAwayFacts, throw_away
from inventory.sessions.models import Pour, Stage
from inventory.stock.actions.lots import write_off

MEDIUM = "Loft medium"
DROPS_OF_OIL, DROP = 3, 50  # thousandths of a mL
SMALLEST_BATCH = 2_500_000
BATCH_STEP = 500_000
BINNED_AFTER = 2
LEFTOVER_DRIES_AFTER = 52
WEIGHED_SINCE = 150  # days ago: the scale was new then
CONSISTENCIES = ["warm honey", "ISO 6 mm, 48 s, 21 °C", "mound gone in a second", "ISO 6 mm, 39 s, 21 °C"]
JUDGED_BEFORE, DRY_AFTER, SECOND_EVERY = 2, 7, 11
FLAWS_OF_FAILED = (("Crazed", "Dull patch"), ("Muddied",), ("Slid",))
FLAWS_OF_SECONDS = (("Dust or hair",), ("Dull patch", "Pits or bubbles"), ("Bare corner",))
OUT_OF_LEVEL = "Slid off level overnight."
WHY_FAILED = ["Crazed at the rim.", "Muddied.", OUT_OF_LEVEL]
FAIR = (
    "Same boards, cups and amounts. Only the order differs: white first or white last. "
    "Both of us judged each board wet and dry."
)


class Bench:
    """Logs the planned sessions one after the other."""

    def __init__(self, loft: Loft, agenda: Agenda, sessions: Sequence[PlannedSession], works: Works) -> None:
        self.loft, self.agenda, self.sessions, self.works = loft, agenda, sessions, works
        self.pours: dict[tuple[int, int], Pour] = {}
        self.cups: dict[tuple[int, int], Lot] = {}
        self.covered = {pour.over for session in sessions for pour in session.pours if pour.over is not None}
        self.failures = count()
        for session in sessions:
            agenda.put(session.days_ago, Hour.BENCH, partial(self._hold, session))
        self.plans: dict[int, Plan] = {}
        last = sessions[-1]
        agenda.put(last.days_ago + AHEAD, Hour.LAST, lambda days_ago: self._plan(last))

    def _plan(self, session: PlannedSession) -> None:
        self.plans[session.number] = plan_session(self.loft, session)

    def rewrite_tide_blue(self, days_ago: int) -> None:
        """The recipe that was changed after it had been used: its first version stays as it is."""
        write_version(
            recipe=Recipe.objects.get(name=SECOND_TIDE_BLUE.makes),
            parts=parts_of(self.loft, SECOND_TIDE_BLUE),
            basis=Basis.VOLUME,
            notes=SECOND_TIDE_BLUE.notes,
            submission=self.loft.submission(self.loft.owner, self.loft.diary.ago(days_ago)),
        )
        self.loft.read_recipes()

    def _hold(self, session: PlannedSession, days_ago: int) -> None:
        loft, day = self.loft, self.loft.diary.ago(days_ago)
        mixes = [self._mix(session, place) for place in range(len(session.mixes))]
        self._have_medium(mixes, days_ago)
        pours = [self._pour(session, pour) for pour in session.pours]
        log = (
            log_session
            if session.number not in self.plans
            else partial(pour_plan, plan=self.plans[session.number])
        )
        logged = log(
            facts=SessionFacts(
                held_on=day,
                title=session.title,
                mixes=mixes,
                pours=pours,
                weighings=weighed(session.number, pours, mixes) if days_ago < WEIGHED_SINCE else [],
                sundries=[
                    Ingredient(loft.materials[name], quantity) for name, quantity in sundries_of(session)
                ],
                minutes=session.bout.minutes + loft.rng.choice([-10, -5, 0, 0, 5, 10]),
                temperature=18 + loft.rng.randint(-2, 4),
                humidity=58 + loft.rng.randint(-9, 12),
                notes=FAIR if session.bout is COMPARISON else "",
            ),
            submission=loft.submission(loft.who(), day),
        )
        rows = list(logged.pours.select_related("surface").order_by("number"))
        self.pours.update({(session.number, place): pour for place, pour in enumerate(rows)})
        lots = [mix.lot for mix in logged.mixes.select_related("lot__material").order_by("pk")]
        self.cups.update({(session.number, place): lot for place, lot in enumerate(lots)})
        self._after(session, rows)
        if session.bout is COMPARISON:
            compare_orders(loft, self.agenda, logged, days_ago)

    def _mix(self, session: PlannedSession, place: int) -> MixFacts:
        mix = session.mixes[place]
        parts = planned(self.loft.versions[mix.colour], mix.quantity)
        if place == 0 and session.bout.word == "tiles":
            oil = self.loft.materials["Silicone oil"]
            parts.append(Ingredient(oil, DROPS_OF_OIL * DROP, estimate=f"{DROPS_OF_OIL} drops"))
        return MixFacts(
            version=self.loft.versions[mix.colour],
            ingredients=parts,
            leftover=mix.leftover,
            place="Leftover shelf" if mix.leftover == "kept" else "",
            consistency=self.loft.rng.choice(CONSISTENCIES),
        )

    def _pour(self, session: PlannedSession, pour: PlannedPour) -> PourFacts:
        loft = self.loft
        doses = [Dose(quantity, mix=place) for place, quantity in pour.doses.items()]
        if pour.from_shelf is not None:
            earlier, place, quantity = pour.from_shelf
            leftover = self.cups[earlier, place]
            doses.append(Dose(quantity, material=leftover.material, lot=leftover.pk))
        return PourFacts(
            technique=loft.techniques[session.bout.technique],
            doses=doses,
            surface=None if pour.over else loft.materials[pour.surface],
            over=self.pours[pour.over] if pour.over else None,
            run_off=pour.run_off,
            arm=pour.arm,
            notes=loft.rng.choice(WHY_FAILED) if pour.failed else pour.notes,
        )

    def _have_medium(self, mixes: Sequence[MixFacts], days_ago: int) -> None:
        """Stir home-made medium the same morning when the jars hold too little of it for this session."""
        needed = sum(
            item.quantity for mix in mixes for item in mix.ingredients if item.material.name == MEDIUM
        )
        held = (
            LotBalance.objects.filter(lot__material__name=MEDIUM).aggregate(all=Sum("quantity"))["all"] or 0
        )
        if held >= needed:
            return
        batch = max(SMALLEST_BATCH, -(-needed * 3 // 2 // BATCH_STEP) * BATCH_STEP)
        self.stir_medium(batch, days_ago)

    def stir_medium(self, quantity: int, days_ago: int) -> Lot:
        """A batch of home-made medium."""
        day, version = self.loft.diary.ago(days_ago), self.loft.versions[MEDIUM]
        facts = MixFacts(
            version, planned(version, quantity), place="Crate by the sink", consistency="thin cream"
        )
        return make_mix(facts=facts, submission=self.loft.submission(self.loft.who(), day)).lot

    def _judge(self, session: PlannedSession, pours: Sequence[Pour], stage: Stage, days_ago: int) -> None:
        """Wet on the evening of the session, dry a week later; of the last two days nothing is judged yet."""
        if days_ago < JUDGED_BEFORE:
            return
        judgements = []
        for row, pour in zip(pours, session.pours, strict=True):
            is_second = not pour.failed and stage == Stage.DRY and row.pk % SECOND_EVERY == 0
            outcome = Pour.Outcome.FAILED if pour.failed else Pour.Outcome.GOOD
            flaws = FLAWS_OF_FAILED[row.pk % len(FLAWS_OF_FAILED)] if pour.failed else ()
            if is_second:
                outcome, flaws = Pour.Outcome.SECOND, FLAWS_OF_SECONDS[row.pk % len(FLAWS_OF_SECONDS)]
            named = [self.loft.flaws[name] for name in flaws]
            judgements.append(JudgementFacts(row, outcome, stage, named))
            row.outcome = outcome  # later sessions pour over it
        day = self.loft.diary.ago(days_ago)
        judge_pours(judgements=judgements, submission=self.loft.submission(self.loft.owner, day))

    def _judge_dry(self, session: PlannedSession, pours: Sequence[Pour], days_ago: int) -> None:
        """What was sold, thrown away or poured over since stays as it was judged wet."""
        in_studio = {
            pour for (pour, _material), amounts in in_work([row.pk for row in pours]).items() if any(amounts)
        }
        covered = set(Pour.objects.filter(over__in=pours).values_list("over", flat=True))
        kept = [
            (row, planned)
            for row, planned in zip(pours, session.pours, strict=True)
            if row.pk in in_studio and row.pk not in covered and not planned.failed
        ]
        if kept:
            rows, planned_pours = zip(*kept, strict=True)
            self._judge(replace(session, pours=list(planned_pours)), rows, Stage.DRY, days_ago)

    def _after(self, session: PlannedSession, pours: Sequence[Pour]) -> None:
        self._judge(session, pours, Stage.WET, session.days_ago)
        self.agenda.put(session.days_ago - DRY_AFTER, Hour.WORK, partial(self._judge_dry, session, pours))
        good = [row for row, pour in zip(pours, session.pours, strict=True) if not pour.failed]
        self.works.make(session, good)
        for place, pour in enumerate(session.pours):
            if pour.failed and (session.number, place) not in self.covered and next(self.failures) % 6 < 5:
                self.agenda.put(session.days_ago - BINNED_AFTER, Hour.SHELF, partial(self._bin, pours[place]))
        for place, mix in enumerate(session.mixes):
            if mix.leftover == "kept":
                lot = self.cups[session.number, place]
                self.agenda.put(
                    session.days_ago - LEFTOVER_DRIES_AFTER, Hour.SHELF, partial(self._throw_away, lot)
                )

    def _bin(self, pour: Pour, days_ago: int) -> None:
        """Some pours fail; what slid because the table was out of level is a loss of its own."""
        loft, day = self.loft, self.loft.diary.ago(days_ago)
        reason = loft.reasons["ruined"] if pour.notes == OUT_OF_LEVEL else None
        facts = ThrowAwayFacts([pour], reason, f"{pour.label}: {pour.notes or 'failed'}")
        throw_away(facts=facts, submission=loft.submission(loft.owner, day))

    def _throw_away(self, lot: Lot, days_ago: int) -> None:
        loft, day = self.loft, self.loft.diary.ago(days_ago)
        held = LotBalance.objects.get(lot=lot).quantity
        if held:
            write_off(
                lot=lot,
                quantity=held,
                reason=loft.reasons["dried-out"],
                note="A skin on it.",
                submission=loft.submission(loft.who(), day),
            )
