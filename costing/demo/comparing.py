"""The sisters' own comparison: rings begun with white against rings that end with it, judged blind, wet and dry."""

from collections.abc import Iterator
from functools import partial
from io import BytesIO
from random import Random

from PIL import Image

from costing.demo.agenda import Agenda, Hour
from costing.demo.pictures import SIDE, Colour, View, colour_of, draw_pour
from costing.demo.setting_up import Loft
from inventory.comparisons.actions.comparison_facts import ArmFacts, ComparisonFacts, CriterionFacts
from inventory.comparisons.actions.comparisons import Placement, finish, place_pours, start_comparison
from inventory.comparisons.actions.scoring import record_scores
from inventory.comparisons.models import Comparison
from inventory.materials.models import Material
from inventory.sessions.actions.photos import add_photo
from inventory.sessions.models import Pour, Session, SessionPhoto, Stage
from studio.submission import Submission

DRY_AFTER = 7
FIRST, LAST = "White first", "White last"
ORDERS = {FIRST: "white, blue, gold", LAST: "blue, gold, white"}
WORDS = ("sunk", "pale", "clear")
# By stage and judge (0 the owner), board by board as they were poured, first and last in turn: points for the rings,
# and the place of a word for the white.
SCORES = {
    Stage.WET: (
        ((8, 2), (6, 1), (7.5, 2), (5.5, 0), (8, 2), (6.5, 1)),
        ((7.5, 2), (6.5, 1), (7, 2), (6, 1), (8.5, 2), (5, 0)),
    ),
    Stage.DRY: (
        ((7.5, 1), (5, 0), (7, 1), (6, 1), (7.5, 2), (5.5, 0)),
        ((7, 1), (5.5, 0), (6, 2), (6.5, 1), (8, 2), (4.5, 0)),
    ),
}
DRIER = 0.9  # colours are a little darker dry than wet (common practice, no source)


def compare_orders(loft: Loft, agenda: Agenda, session: Session, days_ago: int) -> None:
    """Start it on the day of the pours, with their wet scores; the dry ones follow a week later."""
    day = loft.diary.ago(days_ago)
    pours = list(session.pours.select_related("session__posting").order_by("number"))
    facts = ComparisonFacts(
        name="White first or white last",
        varied="order",
        arms=[ArmFacts(name, [pour for pour in pours if pour.arm == name]) for name in ORDERS],
        criteria=[CriterionFacts("Open rings"), CriterionFacts("White", scale="words", words=WORDS)],
        judges=[loft.owner, loft.helper],
        is_blind=True,
        notes="Six round boards of 20 cm out of the same three cups. Which board got which order was drawn by lot.",
    )
    comparison = start_comparison(facts=facts, submission=loft.submission(loft.owner, day))
    rows = comparison.pours.select_related("arm", "pour__session__posting")
    placements = [Placement(each.arm, each.pour, "both", ORDERS[each.arm.name]) for each in rows]
    place_pours(comparison=comparison, placements=placements, submission=loft.submission(loft.owner, day))
    _score(loft, comparison, Stage.WET, days_ago)
    agenda.put(days_ago - DRY_AFTER, Hour.WORK, partial(_judge_dry, loft, comparison))


def _judge_dry(loft: Loft, comparison: Comparison, days_ago: int) -> None:
    _score(loft, comparison, Stage.DRY, days_ago)
    finish(comparison=comparison, submission=loft.submission(loft.owner, loft.diary.ago(days_ago)))


def _score(loft: Loft, comparison: Comparison, stage: Stage, days_ago: int) -> None:
    day, criteria = loft.diary.ago(days_ago), list(comparison.criteria.order_by("number"))
    boards = list(comparison.pours.select_related("comparison").order_by("pour__number"))
    for judge, given in zip((loft.owner, loft.helper), SCORES[stage], strict=True):
        for board, scores in zip(boards, given, strict=True):
            values = {each: int(score * 1000) for each, score in zip(criteria, scores, strict=True)}
            record_scores(
                compared=board,
                stage=stage,
                judge=judge,
                values=values,
                submission=loft.submission(judge, day),
            )


def photograph(submission: Submission) -> Iterator[SessionPhoto]:
    """A photo of each compared board, wet and dry."""
    colours = dict(Material.objects.exclude(colour="").values_list("name", "colour"))
    pours = Pour.objects.filter(compared__isnull=False).select_related("session", "surface", "technique")
    for pour in pours.order_by("number"):
        for stage in Stage:
            upload = BytesIO()
            _picture(pour, stage, colours).save(upload, "JPEG", quality=90)
            upload.seek(0)
            yield add_photo(
                session=pour.session, upload=upload, pours=[pour], stage=stage, submission=submission
            )


def _picture(pour: Pour, stage: Stage, colours: dict[str, str]) -> Image.Image:
    used = ["Ring White", "Tide Blue", "Lamp Gold"]
    order = used if pour.arm == FIRST else used[1:] + used[:1]
    shades = [(_shade(colour_of(colours[name]), stage), 5 if name == used[0] else 3) for name in order]
    view = View(pour.technique.name, shades, "round", pour.surface.height or SIDE, pour.surface.width or SIDE)
    return draw_pour(view, Random(pour.number))  # noqa: S311 -- a picture, not a secret


def _shade(colour: Colour, stage: Stage) -> Colour:
    red, green, blue = colour
    return colour if stage == Stage.WET else (int(red * DRIER), int(green * DRIER), int(blue * DRIER))
