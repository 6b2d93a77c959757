"""What a piece looks like before it has a photo: drawn in the colours poured on it; and the newest ones on Today."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from costing.home.queries import pictures
from costing.pieces.models import Piece
from costing.pieces.queries import with_colours
from inventory.materials.models import Material
from studio.accounts.models import User
from tests.costing.pages import as_user
from tests.costing.stories import a_piece

pytestmark = pytest.mark.django_db


def painted(title: str = "Low water", colour: str = "#27338f") -> Piece:
    piece = a_piece(title=title)
    Material.objects.filter(kind="paint").update(colour=colour)
    return piece


def test_a_piece_without_a_photo_is_drawn_in_what_was_poured_on_it(owner: User) -> None:
    piece = painted()
    with_colours([piece])
    assert piece.colours == ["#27338f"]
    page = as_user(owner).get(reverse("costing:pieces")).content.decode()
    assert 'fill="#27338f"' in page


def test_a_piece_with_a_photo_needs_no_drawing() -> None:
    piece = painted()
    piece.photo = "photos/low.jpg"
    with_colours([piece])
    assert piece.colours == []


def test_the_colours_of_many_pieces_are_one_query() -> None:
    pieces = [painted("Ebb"), painted("Flood")]
    with CaptureQueriesContext(connection) as asked:
        with_colours(pieces)
    assert len(asked) == 1


def test_today_shows_the_newest_photos_of_this_month_or_else_the_latest() -> None:
    today = timezone.localdate()
    old, new = a_piece(title="Ebb"), a_piece(title="Flood")
    a_piece(title="No photo")
    Piece.objects.filter(pk__in=[old.pk, new.pk]).update(
        photo="photos/some.jpg", made_on=today.replace(year=today.year - 1)
    )
    assert pictures(today, at_most=6) == ([new, old], False)
    Piece.objects.filter(pk=old.pk).update(made_on=today)
    assert pictures(today, at_most=6) == ([old], True)
