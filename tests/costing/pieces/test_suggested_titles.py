"""What pieces of a session are called at first: never as pieces of another session are called already."""

import pytest

from costing.pieces.calculations import State
from costing.pieces.views.together import candidates_of
from inventory.materials.models import Material
from inventory.sessions.models import Session
from tests.costing.stories import POURED_ON, a_piece
from tests.making import make_lot, make_session, make_surface, pour_of

pytestmark = pytest.mark.django_db


def a_session(pours: int, *, title: str = "Slack water") -> Session:
    """So many alike pours, each on a board of its own kind."""
    paint = make_lot(on=POURED_ON).material
    boards: list[Material] = [make_surface() for _pour in range(pours)]
    for board in boards:
        make_lot(material=board, on=POURED_ON)
    poured = [pour_of(material=paint, quantity=20_000, surface=board) for board in boards]
    return make_session(pours=poured, title=title, on=POURED_ON)


def titles(session: Session) -> list[str]:
    return [each.title for each in candidates_of(session) if each.piece is None]


def test_they_are_numbered_as_the_pours_are() -> None:
    session = a_session(3)
    assert titles(session) == ["Slack water 1", "Slack water 2", "Slack water 3"]
    a_piece(pours=[session.pours.order_by("number")[0]], title="Slack water 1", state=State.DRY)
    assert titles(session) == ["Slack water 2", "Slack water 3"]


def test_a_later_session_of_that_name_is_numbered_on() -> None:
    a_piece(pours=[a_session(2).pours.order_by("number")[1]], title="Slack water 2", state=State.DRY)
    assert titles(a_session(2)) == ["Slack water 3", "Slack water 4"]


def test_a_title_that_only_begins_alike_takes_no_number() -> None:
    a_piece(pours=[a_session(1).pours.get()], title="Slack water 2 in blue", state=State.DRY)
    a_piece(pours=[a_session(1).pours.get()], title="Slack waters 1", state=State.DRY)
    assert titles(a_session(2)) == ["Slack water 1", "Slack water 2"]


def test_without_a_title_of_its_own_the_technique_is_numbered_on() -> None:
    a_piece(pours=[a_session(1, title="").pours.get()], title="Ring pour 1", state=State.DRY)
    assert titles(a_session(2, title="")) == ["Ring pour 2", "Ring pour 3"]
