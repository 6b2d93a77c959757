"""Round boards poured in two media, one cup of white each, at 1 part paint, 2 medium and ½ water."""

from collections.abc import Sequence
from datetime import timedelta
from typing import Any

from inventory.comparisons.actions.comparison_facts import ArmFacts, ComparisonFacts, CriterionFacts
from inventory.comparisons.actions.comparisons import Placement, place_pours, start_comparison
from inventory.comparisons.actions.scoring import record_scores
from inventory.comparisons.models import Comparison
from inventory.materials.models import Kind
from inventory.recipes.actions.mixes import MixFacts
from inventory.recipes.models import Mix
from inventory.sessions.actions.judging import JudgementFacts, judge_pours
from inventory.sessions.actions.sessions import Dose, PourFacts, SessionFacts, log_session
from inventory.sessions.models import Pour, Session, Stage
from studio.accounts.models import User
from tests.days import TODAY
from tests.inventory.browsing import KEY
from tests.making import (
    ingredients,
    make_delivery,
    make_material,
    make_owner,
    make_recipe,
    make_submission,
    make_surface,
    make_water,
    money,
    the_technique,
    units,
)

ARMS = ("Glue", "Resin")


class Boards:
    """Materials enough for many boards, and the recipes of the two arms."""

    def __init__(self) -> None:
        self.white = make_material(name="Sail Loft White")
        self.media = [make_material(name=name, kind=Kind.MEDIUM) for name in ("Loft glue", "Quay resin")]
        self.water = make_water(name="Tap water")
        self.board = make_surface(name="Round board 20", is_round=True, sides_painted=False)
        make_delivery(
            lines=[
                (self.white, units(5_000), money(50)),
                *((medium, units(5_000), money(20)) for medium in self.media),
                (self.board, units(200), money(200)),
            ],
            on=TODAY - timedelta(days=10),
        )
        self.recipes = [
            make_recipe(parts=[(self.white, 2), (medium, 4), (self.water, 1)], name=f"White in {medium.name}")
            for medium in self.media
        ]

    def pour(self, each: int = 3, *, on: Any = TODAY, **facts: Any) -> Session:
        """A session with so many boards of each arm in turn."""
        return log_session(facts=self.facts(each, on=on, **facts), submission=make_submission())

    def facts(
        self,
        each: int = 3,
        *,
        more_water: int = 0,
        on: Any = TODAY,
        pours: Sequence[Pour] = (),
        mixes: Sequence[Mix] = (),
        **facts: Any,
    ) -> SessionFacts:
        """The same as facts; the second arm's cup has so much more water (mL). With pours, those that they correct."""
        mixed = [
            MixFacts(
                version=recipe,
                ingredients=ingredients(
                    (self.white, units(200)),
                    (medium, units(400)),
                    (self.water, units(100 + (more_water if place else 0))),
                ),
                mix=mixes[place] if mixes else None,
            )
            for place, (recipe, medium) in enumerate(zip(self.recipes, self.media, strict=True))
        ]
        poured = [
            PourFacts(
                technique=the_technique(),
                doses=[Dose(units(60), mix=place % 2)],
                surface=self.board,
                arm=ARMS[place % 2],
                run_off=units(6),
                pour=pours[place] if pours else None,
            )
            for place in range(len(pours) or 2 * each)
        ]
        usual: dict[str, Any] = {"temperature": 20, "humidity": 55, "minutes": 60, "title": "Boards"}
        return SessionFacts(held_on=on, mixes=mixed, pours=poured, **(usual | facts))


def judged_good(session: Session) -> Session:
    """The same session, all its pours judged good."""
    facts = [JudgementFacts(pour, Pour.Outcome.GOOD) for pour in session.pours.all()]
    judge_pours(judgements=facts, submission=make_submission())
    return session


def arms_of(session: Session) -> list[ArmFacts]:
    pours = list(session.pours.select_related("session__posting").order_by("number"))
    return [ArmFacts(name, [pour for pour in pours if pour.arm == name]) for name in ARMS]


def make_comparison(session: Session | None, **facts: Any) -> Comparison:
    """Glue against resin, judged wet by the owner on points, unless said otherwise."""
    usual: dict[str, Any] = {
        "name": "Glue or resin",
        "varied": "medium",
        "arms": arms_of(session) if session else [ArmFacts(name) for name in ARMS],
        "criteria": [CriterionFacts("Open rings")],
        "judges": [make_owner()],
        "judged": "wet",
    }
    return start_comparison(facts=ComparisonFacts(**(usual | facts)), submission=make_submission())


def note_hands(comparison: Comparison) -> None:
    """Record what sessions do not: who poured, and in which order."""
    rows = comparison.pours.select_related("arm", "pour__session__posting")
    placements = [Placement(each.arm, each.pour, "Ida", "white only") for each in rows]
    place_pours(comparison=comparison, placements=placements, submission=make_submission())


def give(
    comparison: Comparison,
    scores: Sequence[Sequence[float]],
    *,
    stage: str = Stage.WET,
    judge: User | None = None,
    criterion: int = 1,
) -> None:
    """Score the pours of each arm, in their order, by one criterion."""
    judged = comparison.criteria.get(number=criterion)
    for arm, of_arm in zip(comparison.arms.all(), scores, strict=True):
        for compared, score in zip(arm.pours.order_by("pour"), of_arm, strict=True):
            record_scores(
                compared=compared,
                stage=stage,
                judge=judge or make_owner(),
                values={judged: int(score * 1000)},
                submission=make_submission(),
            )


def sent(**change: Any) -> dict[str, Any]:
    """A new comparison as a browser sends it: one criterion."""
    return {
        "key": KEY,
        "name": "Glue or resin",
        "varied": "medium",
        "arms": "Glue\r\nResin",
        "judged": "both",
        "judges": [make_owner().pk],
        "notes": "",
        "criteria-TOTAL_FORMS": "1",
        "criteria-INITIAL_FORMS": "0",
        "criteria-0-name": "Open rings",
        "criteria-0-scale": "points",
        "criteria-0-lowest": "0",
        "criteria-0-highest": "10",
        "criteria-0-margin": "1",
    } | change


def pours_of(session: Session) -> list[Pour]:
    return list(session.pours.order_by("number"))


def bodies_of_judging(comparison: Comparison, pour: Pour) -> dict[str, dict[str, Any]]:
    """What a program sends about a comparison and one pour, by the address that takes it."""
    arm, criterion = comparison.arms.all()[0], comparison.criteria.all()[0]
    compared = arm.pours.order_by("pour")[0]
    judge = make_owner().pk
    blind = Comparison.objects.hiding_arms().first() or make_comparison(None, is_blind=True)
    return {
        "comparisons/": {
            "name": "Neap or spring",
            "varied": "other",
            "judged": "wet",
            "judges": [judge],
            "arms": [{"name": "Neap"}, {"name": "Spring"}],
            "criteria": [{"name": "Open rings", "margin": "1.5"}],
        },
        f"comparisons/{comparison.pk}/pours/": {
            "pours": [{"arm": arm.pk, "pour": compared.pour_id, "hands": "Ida"}]
        },
        f"comparisons/{comparison.pk}/scores/": {
            "pour": compared.pk, "criterion": criterion.pk, "stage": "wet", "judge": judge, "value": "7.5",
        },
        f"comparisons/{comparison.pk}/finish/": {"despite_missing": True},
        f"comparisons/{blind.pk}/open/": {},
        f"pours/{pour.pk}/judge/": {"outcome": "good", "stage": "wet", "flaws": [], "notes": "x"},
    }  # fmt: skip
