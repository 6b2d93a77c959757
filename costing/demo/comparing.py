"""The sisters' own comparison: rings begun with white against rings that end with it, judged blind, wet and dry."""

from datetime import date, time
from fractions import Fraction
from functools import partial
from io import BytesIO
from math import cos, sin, tau
from random import Random

from PIL import Image, ImageDraw

from costing.demo.agenda import Agenda, Hour
from costing.demo.pictures import FILLED, SIDE, Colour, View, colour_of, draw_pour
from costing.demo.setting_up import Loft
from inventory.comparisons.actions.comparison_facts import ArmFacts, ComparisonFacts, CriterionFacts
from inventory.comparisons.actions.comparisons import Placement, finish, place_pours, start_comparison
from inventory.comparisons.actions.counting import CountPlace, MarkFacts, add_marks, begin_count, finish_count
from inventory.comparisons.actions.scoring import record_scores
from inventory.comparisons.calculations.counting import Mark
from inventory.comparisons.models import ComparedPour, Comparison, Criterion
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
HOLES_COUNTED = CriterionFacts("Pinholes", scale="counted", low_is_better=True)
HOLES = {FIRST: (54, 66), LAST: (105, 138)}  # on a board, wet and dry
USED = ["Ring White", "Tide Blue", "Lamp Gold"]
PHOTO_SIDE = 720  # pixels
DRIER = 0.9  # colours are a little darker dry than wet (common practice, no source)


def compare_orders(loft: Loft, agenda: Agenda, session: Session, days_ago: int) -> None:
    """Start it on the day of the pours, with their wet scores; the dry ones follow a week later."""
    day = loft.diary.ago(days_ago)
    pours = list(session.pours.select_related("session__posting").order_by("number"))
    facts = ComparisonFacts(
        name="White first or white last",
        varied="order",
        arms=[ArmFacts(name, [pour for pour in pours if pour.arm == name]) for name in ORDERS],
        criteria=[
            CriterionFacts("Open rings"),
            CriterionFacts("White", scale="words", words=WORDS),
            HOLES_COUNTED,
        ],
        judges=[loft.owner, loft.helper],
        is_blind=True,
        notes="Six round boards of 20 cm out of the same three cups. Which board got which order was drawn by lot.",
    )
    comparison = start_comparison(facts=facts, submission=loft.submission(loft.owner, day))
    rows = comparison.pours.select_related("arm", "pour__session__posting")
    placements = [
        Placement(
            each.arm, each.pour, "both", ORDERS[each.arm.name], poured_at=time(10, 15 + 6 * each.pour.number)
        )
        for each in rows
    ]
    place_pours(comparison=comparison, placements=placements, submission=loft.submission(loft.owner, day))
    _score(loft, comparison, Stage.WET, days_ago)
    agenda.put(days_ago - DRY_AFTER, Hour.WORK, partial(_judge_dry, loft, comparison))


def _judge_dry(loft: Loft, comparison: Comparison, days_ago: int) -> None:
    _score(loft, comparison, Stage.DRY, days_ago)
    finish(comparison=comparison, submission=loft.submission(loft.owner, loft.diary.ago(days_ago)))


def _score(loft: Loft, comparison: Comparison, stage: Stage, days_ago: int) -> None:
    day, (rings, white, holes) = loft.diary.ago(days_ago), comparison.criteria.order_by("number")
    rows = comparison.pours.select_related("comparison", "pour__session", "pour__surface", "pour__technique")
    boards = list(rows.order_by("pour__number"))
    for judge, given in zip((loft.owner, loft.helper), SCORES[stage], strict=True):
        for board, scores in zip(boards, given, strict=True):
            values = {each: int(score * 1000) for each, score in zip((rings, white), scores, strict=True)}
            record_scores(
                compared=board,
                stage=stage,
                judge=judge,
                values=values,
                submission=loft.submission(judge, day),
            )
    for board in boards:
        photo = _photograph(loft, board.pour, stage, loft.submission(loft.owner, day))
        _count(loft, board, holes, photo, day)


def _photograph(loft: Loft, pour: Pour, stage: Stage, submission: Submission) -> SessionPhoto:
    """A photo of one board, its holes in it."""
    upload = BytesIO()
    _picture(pour, stage).save(upload, "JPEG", quality=90)
    upload.seek(0)
    photo = add_photo(session=pour.session, upload=upload, pours=[pour], stage=stage, submission=submission)
    loft.photos.append(photo)
    return photo


def _picture(pour: Pour, stage: Stage) -> Image.Image:
    colours = dict(Material.objects.filter(name__in=USED).values_list("name", "colour"))
    order = USED if pour.arm == FIRST else USED[1:] + USED[:1]
    shades = [(_shade(colour_of(colours[name]), stage), 5 if name == USED[0] else 3) for name in order]
    view = View(pour.technique.name, shades, "round", pour.surface.height or SIDE, pour.surface.width or SIDE)
    picture = draw_pour(view, Random(pour.number), size=PHOTO_SIDE)  # noqa: S311 -- a picture, not a secret
    brush, edge, wide = ImageDraw.Draw(picture), PHOTO_SIDE * (1 - FILLED) / 2, PHOTO_SIDE * FILLED
    for hole in holes_in(pour, stage):
        (x, y), half = hole.middle, Fraction(hole.diameter or 0, 20) / 1000
        middle = [edge + wide * at / (pour.surface.width or 1) for at in (x, y)]
        reach = float(wide * half * 1000 / (pour.surface.width or 1))
        brush.ellipse(
            (middle[0] - reach, middle[1] - reach, middle[0] + reach, middle[1] + reach),
            fill=(58, 47, 40),
            outline=(24, 22, 22),
        )
    return picture


def holes_in(pour: Pour, stage: Stage) -> list[Mark]:
    """Where a board has pinholes, as lines across them: more where white was poured last, and more once dry."""
    lot, diameter = Random(f"{pour.number} holes"), pour.surface.width or SIDE  # noqa: S311 -- a picture
    drawn = []
    for _n in range(HOLES[pour.arm][1]):
        far, turn, wide = lot.random() ** 0.5 * diameter * 0.47, lot.uniform(0, tau), lot.randint(90, 260)
        x, y = (round(diameter / 2 + far * part) for part in (cos(turn), sin(turn)))
        drawn.append(Mark(x - wide // 2, y, x - wide // 2 + wide, y))
    return drawn if stage == Stage.DRY else drawn[: HOLES[pour.arm][0]]


def _count(loft: Loft, board: ComparedPour, criterion: Criterion, photo: SessionPhoto, day: date) -> None:
    """Both sisters count the holes in their windows; every third one is measured."""
    middle, reach = PHOTO_SIDE // 2, round(PHOTO_SIDE * FILLED / 2)
    ends = [
        (middle, middle - reach),
        (middle + reach, middle),
        (middle, middle + reach),
        (middle - reach, middle),
    ]
    stage = Stage(photo.stage)
    for judge in (loft.owner, loft.helper):
        submission = loft.submission(judge, day)
        lot = Random(f"{board.pour.number} {stage} {judge.username}")  # noqa: S311 -- a story told the same way
        place = CountPlace(board, criterion, stage, judge, lot)
        count = begin_count(place=place, photo=photo, corners=ends, submission=submission)
        holes = [
            hole for hole in holes_in(board.pour, stage) if count.windows.holding(*hole.middle) is not None
        ]
        marks = [
            MarkFacts(f"hole{number}", hole if number % 3 == 0 else Mark(*hole.middle))
            for number, hole in enumerate(holes)
        ]
        add_marks(count=count, marks=marks, submission=submission)
        finish_count(count=count, submission=submission)


def _shade(colour: Colour, stage: Stage) -> Colour:
    red, green, blue = colour
    return colour if stage == Stage.WET else (int(red * DRIER), int(green * DRIER), int(blue * DRIER))
