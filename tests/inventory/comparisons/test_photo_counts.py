"""Counts on photos, from the four corners to a score: what is kept, what is refused, what comes of it."""

from fractions import Fraction
from io import BytesIO
from itertools import count as numbers

import pytest
from django.db import IntegrityError, connection, transaction
from PIL import Image

from inventory.comparisons.actions.comparisons import discard, finish
from inventory.comparisons.actions.counting import (
    CountPlace,
    MarkFacts,
    add_marks,
    begin_count,
    finish_count,
    remove_mark,
)
from inventory.comparisons.calculations.counting import Mark
from inventory.comparisons.models import PhotoCount, PhotoMark, Score
from inventory.comparisons.queries.counting import outcome_of, straightened
from inventory.comparisons.queries.progress import missing_scores
from inventory.comparisons.queries.results import results_of
from inventory.errors import InventoryError
from inventory.sessions.actions.photos import remove_photo
from inventory.sessions.models import Pour, SessionPhoto, Stage
from studio.errors import InputError
from tests.inventory.comparisons.boards import Boards, make_comparison
from tests.inventory.comparisons.photo_counts import begun, counted_comparison, photograph, place_on
from tests.making import make_helper, make_submission

pytestmark = pytest.mark.django_db

_key = numbers()


@pytest.fixture(autouse=True)
def media(settings: object, tmp_path: object) -> None:
    settings.MEDIA_ROOT = tmp_path  # type: ignore[attr-defined]


def mark(count: PhotoCount, *windows: int, line: int = 0) -> None:
    """A mark in the middle of each window named, as a line so long (thousandths of a cm) where one is given."""
    marks = []
    for window in windows:
        x, y = (edge + count.side // 2 for edge in count.places[window])
        drawn = Mark(x - line // 2, y, x - line // 2 + line, y) if line else Mark(x, y)
        marks.append(MarkFacts(f"m{next(_key)}", drawn))
    add_marks(count=count, marks=marks, submission=make_submission())


def test_a_count_becomes_the_score_per_100_square_centimetres() -> None:
    comparison = counted_comparison()
    count = begun(place_on(comparison))
    assert (count.is_round, count.height, count.side, count.squares) == (True, 30_000, 5_000, 12)
    mark(count, 0, 0, 1, 2, 3, 3)
    score = finish_count(count=count, submission=make_submission())
    assert score.value == 6_000, "six in four windows of 25 cm²"
    assert score == finish_count(count=count, submission=make_submission())
    assert Score.objects.get().photo_count == count
    assert len(missing_scores(comparison)) == 3


def test_sizes_become_the_median_diameter() -> None:
    comparison = counted_comparison("size")
    count = begun(place_on(comparison))
    with pytest.raises(InputError):
        mark(count, 0)
    with pytest.raises(InventoryError):
        finish_count(count=count, submission=make_submission())
    for line in (200, 300, 700):
        mark(count, 1, line=line)
    assert finish_count(count=count, submission=make_submission()).value == 3_000


def test_the_lot_is_drawn_once_and_serves_every_later_count() -> None:
    comparison = counted_comparison()
    place = place_on(comparison)
    first = begun(place)
    mark(first, 0, 1)
    again = begun(place)
    assert (again.seed, again.places) == (first.seed, first.places)
    assert again.marks.count() == 2, "the marks of an unfinished count go along"
    assert PhotoCount.objects.count() == 1
    finish_count(count=again, submission=make_submission())
    third = begun(place)
    assert (third.seed, third.marks.count()) == (first.seed, 0)


def test_counting_again_adds_a_score_and_the_latest_counts() -> None:
    comparison = counted_comparison()
    place = place_on(comparison)
    for windows in ((0, 1, 2), (0,)):
        count = begun(place)
        mark(count, *windows)
        finish_count(count=count, submission=make_submission())
    assert Score.objects.count() == 2
    [counted] = results_of(comparison).counted
    [piece] = counted.arms[0].pieces
    assert sum(piece.outcome.by_window) == 1


def test_a_mark_sent_twice_is_one_and_one_taken_back_is_gone() -> None:
    count = begun(place_on(counted_comparison()))
    x, y = (edge + 5 for edge in count.places[0])
    for _twice in range(2):
        add_marks(count=count, marks=[MarkFacts("a", Mark(x, y))], submission=make_submission())
    assert count.marks.count() == 1
    for _twice in range(2):
        remove_mark(count=count, key="a", submission=make_submission())
    assert not count.marks.exists()


def test_marks_outside_the_windows_or_the_piece_are_refused() -> None:
    count = begun(place_on(counted_comparison()))
    left, top = count.places[0]
    far = Mark(left - 90_000, top, left + 90_000, top)
    for wrong in (Mark(0, 0), far):
        with pytest.raises(InputError):
            add_marks(count=count, marks=[MarkFacts("k", wrong)], submission=make_submission())
    with pytest.raises(InputError):
        MarkFacts("", Mark(1, 1))
    assert not PhotoMark.objects.exists()


def test_only_a_photo_of_this_piece_alone_at_this_stage_will_do() -> None:
    place = place_on(counted_comparison())
    pour = place.compared.pour
    another = Pour.objects.exclude(pk=pour.pk)[0]
    for photo in (photograph(another), photograph(pour, Stage.DRY)):
        with pytest.raises(InputError) as refused:
            begun(place, photo)
        assert refused.value.field == "photo"
    taken = photograph(pour)
    taken.photo.storage.delete(str(taken.photo.name))
    with pytest.raises(InputError):
        begun(place, SessionPhoto.objects.get(pk=taken.pk))


def test_who_does_not_judge_does_not_count() -> None:
    place = place_on(counted_comparison())
    other = CountPlace(place.compared, place.criterion, place.stage, make_helper())
    with pytest.raises(InventoryError):
        begun(other)
    dry = CountPlace(place.compared, place.criterion, Stage.DRY, place.judge)
    with pytest.raises(InventoryError):
        begun(dry, photograph(place.compared.pour, Stage.DRY))


def test_a_criterion_of_points_is_not_counted() -> None:
    comparison = make_comparison(Boards().pour(1))
    with pytest.raises(InputError) as refused:
        begun(place_on(comparison))
    assert refused.value.field == "criterion"


def test_a_piece_photographed_on_its_side_is_turned() -> None:
    comparison = counted_comparison()
    place = place_on(comparison)
    type(place.compared.pour.surface).objects.update(is_round=False, height=10_000, width=20_000)
    place = place_on(comparison)
    upright = [(50, 5), (150, 5), (150, 195), (50, 195)]
    photo = photograph(place.compared.pour)
    count = begin_count(place=place, photo=photo, corners=upright, submission=make_submission())
    assert (count.height, count.width) == (20_000, 10_000)


def test_the_straightened_picture_is_a_plain_jpeg() -> None:
    count = begun(place_on(counted_comparison()))
    with Image.open(BytesIO(straightened(count))) as flat:
        assert (flat.format, flat.size, len(flat.getexif())) == ("JPEG", (190, 190), 0)


def test_a_photo_that_was_counted_on_stays() -> None:
    count = begun(place_on(counted_comparison()))
    with pytest.raises(InventoryError, match="Glue or resin"):
        remove_photo(photo=count.photo, submission=make_submission())


def test_a_comparison_with_an_unfinished_count_can_be_deleted() -> None:
    comparison = counted_comparison()
    mark(begun(place_on(comparison)), 0)
    discard(comparison=comparison, submission=make_submission())
    assert not PhotoCount.objects.exists()


def test_nothing_is_marked_or_finished_once_the_comparison_is() -> None:
    comparison = counted_comparison()
    count = begun(place_on(comparison))
    finish(comparison=comparison, submission=make_submission(), despite_missing=True)
    with pytest.raises(InventoryError):
        mark(count, 0)
    with pytest.raises(InventoryError):
        finish_count(count=count, submission=make_submission())
    assert not Score.objects.exists()


def test_arms_are_compared_by_counts_with_their_error() -> None:
    comparison = counted_comparison(each=3)
    for number in range(6):
        count = begun(place_on(comparison, number))
        mark(count, *([0, 1, 2, 3] * (1 if number % 2 else 4)), 0)
        finish_count(count=count, submission=make_submission())
    results = results_of(comparison)
    [(measured, verdict)] = results.verdicts
    assert measured.criterion.name == "Cells"
    assert verdict.p == Fraction(1, 10)
    [counted] = results.counted
    assert all(arm.error for arm in counted.arms)
    each = [outcome_of(piece.outcome.count).density.error for piece in counted.arms[0].pieces]
    assert counted.arms[0].error == round((sum(error**2 for error in each) / 9) ** 0.5)


def test_the_database_itself_keeps_finished_counts() -> None:
    count = begun(place_on(counted_comparison()))
    mark(count, 0)
    with pytest.raises(IntegrityError), transaction.atomic():
        PhotoCount.objects.update(seed=1)
    with pytest.raises(IntegrityError), transaction.atomic():
        PhotoMark.objects.update(x=1)
    finish_count(count=count, submission=make_submission())
    for statement in (
        "UPDATE inventory_photocount SET finished_at = NULL",
        "DELETE FROM inventory_photomark",
        "INSERT INTO inventory_photomark (count_id, key, x, y) SELECT count_id, 'z', x, y FROM inventory_photomark",
    ):
        with pytest.raises(IntegrityError), transaction.atomic(), connection.cursor() as cursor:
            cursor.execute(statement)
