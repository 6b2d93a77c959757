"""The writers of a count on a photo: it is begun with four corners, marked as one goes, and finished as a score."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from random import Random, SystemRandom

from inventory.comparisons.actions.comparisons import refuse_finished
from inventory.comparisons.actions.scoring import refuse_no_judging
from inventory.comparisons.calculations.counting import Mark, windows_of
from inventory.comparisons.calculations.straightening import Point, in_turn, lies_on_its_side, perspective
from inventory.comparisons.models import ComparedPour, Criterion, PhotoCount, PhotoMark, Scale, Score
from inventory.comparisons.queries.counting import outcome_of
from inventory.errors import InventoryError
from inventory.sessions.models import SessionPhoto
from studio.accounts.models import User
from studio.auditing.writing import create_all
from studio.errors import InputError
from studio.submission import Submission, transaction
from studio.translation import _

MOST_MARKS = 2_000
LONGEST_KEY = 36


@dataclass(frozen=True, slots=True)
class CountPlace:
    """What is counted: one criterion of one pour, wet or dry, by one judge; and the lot that draws its windows."""

    compared: ComparedPour
    criterion: Criterion
    stage: str
    judge: User
    lot: Random = field(default_factory=SystemRandom)


@dataclass(frozen=True, slots=True)
class MarkFacts:
    """A mark as it is sent, under a key of its own: sent again it is the same mark. Raises InputError."""

    key: str
    mark: Mark

    def __post_init__(self) -> None:
        if not 0 < len(self.key) <= LONGEST_KEY or not self.key.isascii():
            raise InputError(_("Give every mark a different key."), field="key")


def begin_count(
    *, place: CountPlace, photo: SessionPhoto, corners: Sequence[Point], submission: Submission
) -> PhotoCount:
    """Straighten a photo and lay four windows over it by lot. Begun again, the marks so far go along.

    Raises InputError for corners or a photo that will not do, and for a criterion that is not counted on a photo;
    InventoryError where this judge does not score this pour now.
    """
    compared, criterion = place.compared, place.criterion
    with transaction(submission):
        refuse_finished(compared.comparison)
        refuse_no_judging(compared, place.stage, place.judge)
        if criterion.comparison_id != compared.comparison_id or not criterion.is_on_photo:
            raise InputError(_("Choose a criterion that is counted on a photo."), field="criterion")
        _refuse_photo(photo, compared, place.stage)
        height, width = _size(compared)
        turned = in_turn(corners, _pixels(photo))
        perspective(turned, is_round=compared.pour.surface.is_round)
        if lies_on_its_side(turned, height=height, width=width):
            height, width = width, height
        return _begun(place, photo, turned, (height, width), submission)


def _begun(
    place: CountPlace,
    photo: SessionPhoto,
    corners: Sequence[Point],
    size: tuple[int, int],
    submission: Submission,
) -> PhotoCount:
    before = PhotoCount.objects.filter(
        pour=place.compared, criterion=place.criterion, stage=place.stage, judge=place.judge
    ).prefetch_related("marks")
    first, is_round = before.order_by("pk").first(), place.compared.pour.surface.is_round
    seed = first.seed if first else place.lot.getrandbits(31)
    windows = windows_of(height=size[0], width=size[1], is_round=is_round, seed=seed)
    count = PhotoCount.objects.create(
        pour=place.compared,
        criterion=place.criterion,
        stage=place.stage,
        judge=place.judge,
        photo=photo,
        corners=[list(corner) for corner in corners],
        height=size[0],
        width=size[1],
        is_round=is_round,
        seed=seed,
        squares=windows.squares,
        side=windows.side,
        places=[list(each) for each in windows.places],
        started_at=submission.at,
    )
    for unfinished in before.filter(finished_at=None).exclude(pk=count.pk):
        if unfinished.windows == windows:
            _copy_marks(unfinished, count)
        unfinished.delete()
    return count


def _copy_marks(of: PhotoCount, to: PhotoCount) -> None:
    create_all(
        PhotoMark(count=to, key=mark.key, x=mark.x, y=mark.y, x2=mark.x2, y2=mark.y2)
        for mark in of.marks.all()
    )


def _refuse_photo(photo: SessionPhoto, compared: ComparedPour, stage: str) -> None:
    if [pour.pk for pour in photo.pours.all()] != [compared.pour_id] or photo.stage != stage:
        raise InputError(
            _("Choose a photo that shows this piece alone, wet or dry as it is judged."), field="photo"
        )


def _pixels(photo: SessionPhoto) -> tuple[int, int]:
    try:
        return photo.photo.width, photo.photo.height
    except OSError:
        raise InputError(_("The photo file is missing. Take another photo."), field="photo") from None


def _size(compared: ComparedPour) -> tuple[int, int]:
    """Height and width of its surface, in thousandths of a centimetre."""
    surface = compared.pour.surface
    if not surface.height or not surface.width:
        raise InventoryError(_("{surface} has no size on record. Enter it first.", surface=surface))
    return surface.height, surface.width


def add_marks(*, count: PhotoCount, marks: Sequence[MarkFacts], submission: Submission) -> PhotoCount:
    """Keep marks on a count that is not finished. A mark whose key is there already stays as it is.

    Raises InputError for a mark outside the windows, and for one without a line where sizes are measured.
    """
    with transaction(submission):
        _refuse_finished(count)
        for each in marks:
            _refuse_mark(count, each.mark)
        known = set(PhotoMark.objects.filter(count=count).values_list("key", flat=True))
        new = {each.key: each.mark for each in marks if each.key not in known}
        if len(known) + len(new) > MOST_MARKS:
            raise InputError(_("A count holds at most {most} marks.", most=MOST_MARKS), field="marks")
        create_all(
            PhotoMark(count=count, key=key, x=mark.x, y=mark.y, x2=mark.x2, y2=mark.y2)
            for key, mark in new.items()
        )
    return count


def _refuse_mark(count: PhotoCount, mark: Mark) -> None:
    if count.windows.holding(*mark.middle) is None:
        raise InputError(_("That is outside the four windows, so it is not counted."), field="marks")
    ends = (
        [(mark.x, mark.y)] if mark.x2 is None or mark.y2 is None else [(mark.x, mark.y), (mark.x2, mark.y2)]
    )
    if any(not (0 <= x <= count.width and 0 <= y <= count.height) for x, y in ends):
        raise InputError(_("That is beside the piece."), field="marks")
    if count.criterion.scale == Scale.SIZE and not mark.diameter:
        raise InputError(_("Drag across the cell: its width is what is measured."), field="marks")


def remove_mark(*, count: PhotoCount, key: str, submission: Submission) -> PhotoCount:
    """Take a mark back, as long as the count is not finished. One that is gone already stays so."""
    with transaction(submission):
        _refuse_finished(count)
        count.marks.filter(key=key).delete()
    return count


def finish_count(*, count: PhotoCount, submission: Submission) -> Score:
    """Make a score of a count: per 100 cm², or the median diameter in mm. Done twice it is the same score.

    Raises InventoryError where sizes are measured and nothing was.
    """
    with transaction(submission):
        refuse_finished(count.pour.comparison)
        count = PhotoCount.objects.select_for_update(of=("self",)).get(pk=count.pk)
        if count.finished_at is not None:
            return count.score
        refuse_no_judging(count.pour, count.stage, count.judge)
        value = outcome_of(count).value
        if value is None:
            raise InventoryError(_("Nothing is measured yet. Drag across the cells in the four windows."))
        count.finished_at = submission.at
        count.save(update_fields=["finished_at"])
        return Score.objects.create(
            pour=count.pour,
            criterion=count.criterion,
            stage=count.stage,
            judge=count.judge,
            value=value,
            photo_count=count,
            recorded_at=submission.at,
            recorded_by=submission.by,
        )


def _refuse_finished(count: PhotoCount) -> None:
    """Hold the comparison until the transaction ends; a count that became a score takes no more marks."""
    refuse_finished(count.pour.comparison)
    if not PhotoCount.objects.filter(pk=count.pk, finished_at=None).exists():
        raise InventoryError(_("This count is finished. Count again to change it."))
