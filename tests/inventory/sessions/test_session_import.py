"""Past sessions from a table."""

import pytest

from inventory.ledger.verification import check
from inventory.materials.models import Material
from inventory.sessions.models import Pour, Session
from studio.imports.checking import RowState
from tests.days import june
from tests.making import make_delivery, make_material, make_surface, money, the_technique, units
from tests.studio.imports.making import checked, imported, problems_of

pytestmark = pytest.mark.django_db
HEAD = "Day,Technique,Surface,How many,Poured per surface,Minutes,Outcome\n"


@pytest.fixture(autouse=True)
def shelf() -> None:
    paint, white, board = (
        make_material(name="Ebb Blue"),
        make_material(name="Foam"),
        make_surface(name="Board"),
    )
    lines = [(paint, units(1000), money(10)), (white, units(500), money(5)), (board, units(4), money(8))]
    make_delivery(lines=lines, on=june(1))


def row(**cells: str) -> str:
    usual = {
        "day": "05/06/2025", "technique": the_technique().name, "surface": "board", "count": "2",
        "paint": "60ml Ebb Blue + 1/2 fl oz of foam", "minutes": "90", "outcome": "",
    }  # fmt: skip
    return HEAD + ",".join((usual | cells).values()) + "\n"


def test_a_row_is_a_session_of_its_day_with_its_pours() -> None:
    assert imported("sessions", row()).saved == 1
    session = Session.objects.get()
    assert (session.held_on, session.minutes, session.pours.count()) == (june(5), 90, 2)
    assert {pour.outcome for pour in Pour.objects.all()} == {Pour.Outcome.GOOD}
    assert check().is_clean


def test_the_same_table_twice_logs_nothing_twice() -> None:
    imported("sessions", row())
    assert imported("sessions", row()).there == 1
    assert Session.objects.count() == 1
    assert [each.state for each in checked("sessions", row())] == [RowState.THERE]


@pytest.mark.parametrize(
    ("cells", "field"),
    [
        ({"day": "31/02/2025"}, "held_on"), ({"day": "2999-01-01"}, "held_on"), ({"technique": "Magic"}, "technique"),
        ({"surface": "Ebb Blue"}, "surface"), ({"surface": "Moon"}, "surface"), ({"count": "0"}, "count"),
        ({"paint": "Ebb Blue"}, "paint"), ({"paint": "60 ml Moon dust"}, "paint"), ({"paint": "60 kg2 Foam"}, "paint"),
        ({"minutes": "long"}, "minutes"), ({"outcome": "so-so"}, "outcome"),
    ],
)  # fmt: skip
def test_what_is_wrong_is_said_at_its_column(cells: dict[str, str], field: str) -> None:
    (found,) = checked("sessions", row(**cells))
    assert field in {key for key, _text in problems_of(found)}


def test_looking_at_a_table_already_notices_what_the_shelf_lacks_on_the_day() -> None:
    (early,) = checked("sessions", row(day="31/05/2025"))  # before anything was bought
    assert early.state is RowState.WRONG
    assert "Board" in str(early.problems[0])
    assert not Session.objects.exists()
    three = row(count="3") + row(day="06/06/2025", count="3").removeprefix(HEAD)  # of four boards
    assert [each.state for each in checked("sessions", three)] == [RowState.NEW, RowState.WRONG]
    done = imported("sessions", three, good_only=True)
    assert (done.saved, len(done.wrong)) == (1, 1)
    assert [each.state for each in checked("sessions", three)] == [RowState.THERE, RowState.WRONG]


def test_a_column_called_session_holds_titles_unless_days_stand_below_it() -> None:
    titled = row().replace("Day,", "Day,Session,").replace("05/06/2025,", "05/06/2025,Rings,")
    assert checked("sessions", titled)[0].words["title"] == "Rings"
    assert checked("sessions", row().replace("Day,", "Session,"))[0].state is RowState.NEW


def test_what_the_shelf_lacks_stops_the_row_and_names_it() -> None:
    done = imported("sessions", row(count="9"), good_only=True)
    assert (done.saved, Session.objects.count()) == (0, 0)
    assert Material.objects.get(name="Board").name in str(done.wrong[0].problems[0])
