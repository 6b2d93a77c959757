"""Ways round Python into where pieces were; the database refuses each."""

from collections.abc import Callable

from costing.locations.models import Placement
from tests.costing.locations.stories import make_box, move
from tests.costing.stories import a_piece
from tests.days import AT, june
from tests.inventory.forging import POSTGRESQL, Attempt, Scene, run
from tests.inventory.side_doors import truncate
from tests.making import make_owner

CHANGED, DELETED = "where a piece was is never changed", "where a piece was is never deleted"
FOLLOWS = "it must follow an earlier one of the same piece"


def after_moving(go: Callable[[], object]) -> Callable[[Scene], object]:
    def move_first(_scene: Scene) -> None:
        move([a_piece()], make_box())
        go()

    return move_first


def _insert(**facts: object) -> None:
    last = Placement.objects.get()
    usual = {
        "piece": last.piece,
        "after": last,
        "on": last.on,
        "recorded_at": AT,
        "recorded_by": make_owner(),
    }
    Placement.objects.bulk_create([Placement(**usual | facts)])


ATTEMPTS = {
    "placement_insert": [
        Attempt("of another piece", after_moving(lambda: _insert(piece=a_piece(title="Ebb"))), FOLLOWS),
        Attempt("on an earlier day", after_moving(lambda: _insert(on=june(2))), FOLLOWS),
    ],
    "placement_update": [
        Attempt("update()", after_moving(lambda: Placement.objects.update(location=None)), CHANGED),
        Attempt("a note", after_moving(lambda: Placement.objects.update(note="elsewhere")), CHANGED),
        Attempt(
            "raw", after_moving(lambda: run("UPDATE costing_placement SET until = NULL, note = 'x'")), CHANGED
        ),
    ],
    "placement_delete": [
        Attempt("delete()", after_moving(lambda: Placement.objects.all().delete()), DELETED),
        Attempt("raw", after_moving(lambda: run("DELETE FROM costing_placement")), DELETED),
    ],
    "placement_no_truncate": [
        Attempt(
            "TRUNCATE", after_moving(lambda: truncate("costing_placement CASCADE")), DELETED, only=POSTGRESQL
        )
    ],
}
