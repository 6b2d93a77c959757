"""Pictures for the pieces that are for sale, drawn in the colours they were poured with."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from io import BytesIO
from random import Random

from costing.demo.pictures import View, colour_of, draw_pour
from costing.demo.recipes import PALETTES, WHITE_AND_BLUE
from costing.demo.setting_up import Loft
from costing.pieces.actions.photos import store_photo
from costing.pieces.calculations import State
from costing.pieces.models import Piece
from inventory.materials.models import Material
from inventory.sessions.models import Pour
from studio.photos import develop, listed_beside
from studio.preferences.models import Studio
from studio.submission import Submission

MOST_PICTURES = 40


def hang_pictures(loft: Loft, *, progress: Callable[[int], None]) -> None:
    """Draw and store a photo for every piece that hangs for sale or is held."""
    submission = loft.submission(loft.owner, loft.diary.today)
    colours = dict(Material.objects.exclude(colour="").values_list("name", "colour"))
    hanging = Piece.objects.filter(state__in=[State.FOR_SALE, State.RESERVED]).order_by("-pk")[:MOST_PICTURES]
    for number, piece in enumerate(hanging, start=1):
        loft.photos.append(piece)
        _hang(piece, number, colours, submission)
        progress(100 * number // len(hanging))


def draw_logo() -> None:
    """The studio's own, on its papers. Last of all, so that a build which is interrupted leaves no file of it."""
    studio = Studio.current()
    colours = [((15, 85, 104), 4), ((240, 236, 226), 3), ((200, 150, 60), 1)]
    file = BytesIO()
    draw_pour(View("Ring pour", colours, "round"), Random(11), size=240).save(file, "PNG")  # noqa: S311
    file.seek(0)
    studio.logo.save("wrackline.jpg", develop(file).thumbnail)


@contextmanager
def photos_undone(loft: Loft) -> Iterator[None]:
    """Where the build fails, its rows go with the transaction; the files of its photos go here."""
    try:
        yield
    except BaseException:
        for row in loft.photos:
            for file in (row.photo, row.thumbnail, listed_beside(row.thumbnail)):
                if file.name:
                    file.storage.delete(file.name)
        raise


def _hang(piece: Piece, number: int, colours: dict[str, str], submission: Submission) -> None:
    pours = list(
        Pour.objects.filter(piece_part__piece=piece).select_related("session", "technique", "surface")
    )
    drawn = draw_pour(_view(pours, colours), Random(number))  # noqa: S311 -- a picture, not a secret
    upload = BytesIO()
    drawn.save(upload, "JPEG", quality=90)
    upload.seek(0)
    store_photo(piece=piece, upload=upload, submission=submission)


def _view(pours: list[Pour], colours: dict[str, str]) -> View:
    surface = pours[0].surface
    name = pours[0].session.title.partition(",")[0]
    palette = next((palette for palette in PALETTES if palette.name == name), WHITE_AND_BLUE)
    shapes = {1: "round" if surface.is_round else "square", 2: "pair"}
    return View(
        technique=pours[0].technique.name,
        colours=[(colour_of(colours[colour]), share) for colour, share in palette.shares.items()],
        shape=shapes.get(len(pours), "set"),
        height=surface.height or 1,
        width=surface.width or 1,
    )
