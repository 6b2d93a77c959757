"""What counts on photos came to, piece by piece and arm by arm; and the photo of one, straightened."""

from collections.abc import Sequence
from dataclasses import dataclass
from io import BytesIO

from django.http import Http404
from PIL import Image

from inventory.comparisons.calculations.counting import Density, Sizes, density, pooled_error, sizes, tally
from inventory.comparisons.calculations.straightening import for_pixels, perspective
from inventory.comparisons.models import ComparedPour, Criterion, PhotoCount, Scale, Score
from inventory.comparisons.queries.progress import latest_scores
from inventory.sessions.models import SessionPhoto, Stage
from studio.translation import _

LONG_SIDE = 1400  # pixels of a straightened photo, at most


@dataclass(frozen=True, slots=True)
class CountOutcome:
    """What one count came to. `by_window` is how many marks each window holds."""

    count: PhotoCount
    by_window: list[int]
    density: Density
    sizes: Sizes | None

    @property
    def value(self) -> int | None:
        """The score in thousandths; None where sizes are wanted and none was measured."""
        if self.count.criterion.scale == Scale.SIZE:
            return self.sizes.median if self.sizes else None
        return self.density.per_100


def outcome_of(count: PhotoCount) -> CountOutcome:
    """Work one count out; its marks prefetched, no query."""
    marks = count.found
    by_window = tally(count.windows, marks)
    measured = [mark.diameter for mark in marks if mark.diameter is not None]
    return CountOutcome(count, by_window, density(count.windows, by_window), sizes(measured))


@dataclass(frozen=True, slots=True)
class CountedPiece:
    """One judge's count that stands as the score of one pour."""

    compared: ComparedPour
    outcome: CountOutcome


@dataclass(frozen=True, slots=True)
class CountedArm:
    """What an arm's counts came to together: the standard error of their mean, and all sizes that were measured.

    The error is that of counting in windows alone, not how far the pours differ; None where sizes are the score.
    """

    arm: int
    pieces: list[CountedPiece]
    error: int | None
    sizes: Sizes | None


@dataclass(frozen=True, slots=True)
class Counted:
    """A criterion that was counted on photos, wet or dry: arm by arm."""

    criterion: Criterion
    stage: Stage
    arms: list[CountedArm]


def counted_of(pours: Sequence[ComparedPour], arms: Sequence[int], scores: Sequence[Score]) -> list[Counted]:
    """The counts that stand as scores, in the order of their criteria. One query."""
    numbers = [score.photo_count_id for score in scores if score.photo_count_id]
    if not numbers:
        return []
    by_pour = {each.pk: each for each in pours}
    counts = PhotoCount.objects.filter(pk__in=numbers).select_related("criterion", "judge")
    held: dict[tuple[int, int, str], list[CountedPiece]] = {}
    criteria: dict[int, Criterion] = {}
    for count in counts.prefetch_related("marks"):
        compared = by_pour.get(count.pour_id)
        if compared is not None:
            criteria[count.criterion.number] = count.criterion
            key = (count.criterion.number, compared.arm_id, count.stage)
            held.setdefault(key, []).append(CountedPiece(compared, outcome_of(count)))
    return [
        Counted(
            criteria[number],
            stage,
            [_arm(arm, criteria[number], held.get((number, arm, stage.value), [])) for arm in arms],
        )
        for number in sorted(criteria)
        for stage in Stage
        if any((number, arm, stage.value) in held for arm in arms)
    ]


def _arm(arm: int, criterion: Criterion, pieces: list[CountedPiece]) -> CountedArm:
    diameters = [
        mark.diameter for piece in pieces for mark in piece.outcome.count.found if mark.diameter is not None
    ]
    is_count = bool(pieces) and criterion.scale == Scale.COUNTED
    error = pooled_error([piece.outcome.density.error for piece in pieces]) if is_count else None
    return CountedArm(arm, pieces, error, sizes(diameters))


def unfinished_count(
    compared: ComparedPour, criterion: Criterion, stage: str, judge: int
) -> PhotoCount | None:
    """The count to go on with, if one was begun."""
    mine = compared.photo_counts.filter(criterion=criterion, stage=stage, judge=judge, finished_at=None)
    return mine.order_by("pk").last()


def counted_on(photo: SessionPhoto) -> str:
    """Why this photo is not removed: cells were counted on it."""
    count = photo.counts.select_related("pour__comparison").first()
    if count is None:
        return ""
    return _("This photo stays: it was counted on in “{comparison}”.", comparison=count.pour.comparison)


def straightened(count: PhotoCount) -> bytes:
    """The photo of a count as a JPEG that shows the piece from above and nothing else. Raises Http404."""
    corners = [(x, y) for x, y in count.corners]
    wide, high = ([corner[axis] for corner in corners] for axis in (0, 1))
    # No larger than it is in the photo: more pixels would show no more.
    longest = min(LONG_SIDE, max(max(wide) - min(wide), max(high) - min(high)))
    scale = longest / max(count.height, count.width)
    width, height = max(round(count.width * scale), 1), max(round(count.height * scale), 1)
    way = for_pixels(perspective(corners, is_round=count.is_round), width, height)
    out = BytesIO()
    try:
        with count.photo.photo.open("rb") as file, Image.open(file, formats=["JPEG"]) as photo:
            flat = photo.convert("RGB").transform(
                (width, height), Image.Transform.PERSPECTIVE, way, Image.Resampling.BICUBIC
            )
    except OSError:
        raise Http404(_("The photo file is missing.")) from None
    flat.save(out, "JPEG", quality=86)
    return out.getvalue()


def standing_counts(compared: ComparedPour, stage: str, judge: int) -> dict[int, PhotoCount]:
    """By criterion, the counts of one judge that stand as this pour's scores."""
    scores = latest_scores(compared.comparison, pours=[compared.pk])
    return {
        criterion: row.photo_count
        for (_pour, criterion, when, who), row in scores.items()
        if (when, who) == (stage, judge) and row.photo_count is not None
    }
