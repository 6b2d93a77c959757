"""Counts on photos of the boards: what is photographed, begun and marked."""

from io import BytesIO
from itertools import count as numbers
from typing import Any

from PIL import Image

from inventory.comparisons.actions.comparison_facts import CriterionFacts
from inventory.comparisons.actions.counting import CountPlace, begin_count
from inventory.comparisons.models import ComparedPour, Comparison, PhotoCount
from inventory.sessions.actions.photos import add_photo
from inventory.sessions.models import Pour, SessionPhoto, Stage
from tests.inventory.comparisons.boards import Boards, make_comparison
from tests.making import make_owner, make_submission
from tests.small_studio import SmallStudio

SIDE = 200  # pixels of a photo
ENDS = [(100, 5), (195, 100), (100, 195), (5, 100)]
_shade = numbers()


def photograph(pour: Pour, stage: str = Stage.WET) -> SessionPhoto:
    upload = BytesIO()
    Image.new("RGB", (SIDE, SIDE), (20, 90, next(_shade) % 256)).save(upload, "PNG")
    upload.seek(0)
    return add_photo(
        session=pour.session, upload=upload, pours=[pour], stage=stage, submission=make_submission()
    )


def counted_comparison(scale: str = "counted", each: int = 2, **facts: object) -> Comparison:
    return make_comparison(Boards().pour(each), criteria=[CriterionFacts("Cells", scale=scale)], **facts)


def place_on(comparison: Comparison, number: int = 0, stage: str = Stage.WET) -> CountPlace:
    compared = comparison.pours.select_related("comparison", "pour__surface", "pour__session").order_by(
        "pour"
    )[number]
    return CountPlace(compared, comparison.criteria.get(), stage, make_owner())


def begun(place: CountPlace, photo: SessionPhoto | None = None) -> PhotoCount:
    taken = photo or photograph(place.compared.pour)
    return begin_count(place=place, photo=taken, corners=ENDS, submission=make_submission())


def counted_piece(studio: SmallStudio) -> ComparedPour:
    """The first pour of the small studio's comparison, in which cells are counted."""
    pours = studio.comparison.pours.select_related("comparison", "pour__surface", "pour__session")
    return pours.order_by("pour")[0]


def begin_a_count(compared: ComparedPour) -> PhotoCount:
    """An unfinished count on it."""
    criterion = compared.comparison.criteria.get(scale="counted")
    return begun(CountPlace(compared, criterion, Stage.WET, make_owner()))


def bodies_of_counts(count: PhotoCount) -> dict[str, dict[str, Any]]:
    """What every POST of counts takes as it stands."""
    at = count.places[0]
    return {
        "photo-counts/": {
            "pour": count.pour_id, "criterion": count.criterion_id, "stage": count.stage,
            "judge": count.judge_id, "photo": count.photo_id, "corners": count.corners,
        },
        f"photo-counts/{count.pk}/marks/": {"marks": [{"key": "a", "at": at, "to": at}], "remove": ["b"]},
        f"photo-counts/{count.pk}/finish/": {},
    }  # fmt: skip
