"""The demo's saved plans: the last session was one; three wait, of which one is short and one repeats a piece."""

from collections import Counter
from collections.abc import Mapping
from datetime import timedelta

from costing.demo.plan import PlannedSession
from costing.demo.recipes import PALETTES, RATIOS, Palette
from costing.demo.setting_up import Loft
from costing.pieces.queries import names_by_pour
from inventory.plans.actions import PlanFacts, PlanLineFacts, save_plan
from inventory.plans.models import Plan
from inventory.plans.repeating.repeats import pours_to_repeat, repeat_pours
from inventory.recipes.actions.ratios import RatioUse, facts_of, mix_by_ratio
from inventory.recipes.models import Ratio, RecipeVersion
from inventory.sessions.models import Pour

AHEAD = 5  # days before its session the plan of it was written
REPEATED_AHEAD = 20
HARBOUR, LOW_SUN = PALETTES[0], PALETTES[1]
# Days ahead, name, what of, by which technique, in which colours, notes.
WAITING = (
    (
        6,
        "Lantern Quay, first boards",
        {"Round board 30 cm": 4, "Round board 20 cm": 6},
        "Ring pour",
        HARBOUR,
        "The small ones in the order of the tray, so that none waits for its cup.",
    ),
    (
        13,
        "Large canvases for the gallery",
        {"Canvas 60 × 80 cm, deep": 6},
        "Dutch pour",
        LOW_SUN,
        "Two at a time: the racks hold no more.",
    ),
)


# What these boards are poured in, in thousandths of a part of the pour.
TUBE_BOARD, TUBES_AHEAD = "Round board 30 cm", 9
TUBE_PAINTS = {"Deep Violet": 1000, "Sea Thrift Magenta": 1000, "Pearl Silver": 500}


def plan_session(loft: Loft, session: PlannedSession) -> Plan:
    """The plan that a session was, written some days before it."""
    day = loft.diary.ago(session.days_ago)
    surfaces = Counter(pour.surface for pour in session.pours if pour.over is None)
    lines = _lines(loft, surfaces, session.bout.technique, session.palette)
    facts = PlanFacts(name=session.title, planned_on=day, lines=lines)
    return save_plan(facts=facts, submission=loft.submission(loft.owner, day - timedelta(days=AHEAD)))


def plan_ahead(loft: Loft) -> None:
    """What waits to be poured on the last day of the year."""
    today = loft.diary.today
    for days, name, surfaces, technique, palette, notes in WAITING:
        facts = PlanFacts(
            name=name,
            planned_on=today + timedelta(days=days),
            lines=_lines(loft, surfaces, technique, palette),
            notes=notes,
        )
        save_plan(facts=facts, submission=loft.submission(loft.owner, today))
    _repeat_a_piece(loft)


def _repeat_a_piece(loft: Loft) -> None:
    """The last good piece of a recipe that was changed since, to be poured once more as it was."""
    changed = RecipeVersion.objects.filter(number=1, recipe__versions__number=2)
    pours = Pour.objects.standing().filter(session__mixes__version__in=changed, piece_part__isnull=False)
    pour = pours.filter(outcome=Pour.Outcome.GOOD).order_by("-session__held_on", "number").first()
    if pour is not None:
        today = loft.diary.today
        repeat_pours(
            pours=pours_to_repeat(numbers=[pour.pk]),
            name=f"{names_by_pour([pour.pk])[pour.pk]}, once more",
            on=today + timedelta(days=REPEATED_AHEAD),
            submission=loft.submission(loft.owner, today),
        )


def plan_by_ratio(loft: Loft) -> None:
    """Boards in paints that no recipe is written for: one ratio, one medium, and shares that differ."""
    ratio = Ratio.objects.get(name=RATIOS[0][0])
    paints = [loft.materials[name] for name in TUBE_PAINTS]
    use = RatioUse(facts_of(ratio), paints, [loft.materials["Eelslip pouring medium"]])
    today = loft.diary.today
    submission = loft.submission(loft.owner, today)
    mixed = mix_by_ratio(use=use, submission=submission)
    colours = [(each.recipe.makes, TUBE_PAINTS[each.paint.name]) for each in mixed]
    line = PlanLineFacts(loft.materials[TUBE_BOARD], 2, loft.techniques["Flip cup"], colours)
    facts = PlanFacts(
        name="Boards straight from the tubes", planned_on=today + timedelta(days=TUBES_AHEAD), lines=[line]
    )
    save_plan(facts=facts, submission=submission)


def _lines(loft: Loft, surfaces: Mapping[str, int], technique: str, palette: Palette) -> list[PlanLineFacts]:
    colours = [(loft.materials[name], share * 1000) for name, share in palette.shares.items()]
    return [
        PlanLineFacts(loft.materials[surface], count, loft.techniques[technique], colours)
        for surface, count in surfaces.items()
    ]
