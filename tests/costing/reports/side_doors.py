"""Ways round Python into what was written down; the database refuses each."""

from collections.abc import Callable

from costing.reports.actions import WriteDownFacts, write_down_items
from costing.reports.models import WriteDown
from tests.costing.stories import LATER, a_piece
from tests.inventory.forging import POSTGRESQL, Attempt, Scene, run
from tests.inventory.side_doors import truncate
from tests.making import make_submission

CHANGED, DELETED = "it is never changed; write another one", "write-down: it is never deleted"


def after_writing(go: Callable[[], object]) -> Callable[[Scene], object]:
    def write_first(_scene: Scene) -> None:
        items = [WriteDownFacts(0, piece=a_piece())]
        write_down_items(items=items, submission=make_submission(on=LATER))
        go()

    return write_first


ATTEMPTS = {
    "writedown_update": [
        Attempt("update()", after_writing(lambda: WriteDown.objects.update(amount=0)), CHANGED),
        Attempt("raw", after_writing(lambda: run("UPDATE costing_writedown SET note = 'x'")), CHANGED),
    ],
    "writedown_delete": [
        Attempt("delete()", after_writing(lambda: WriteDown.objects.all().delete()), DELETED),
        Attempt("raw", after_writing(lambda: run("DELETE FROM costing_writedown")), DELETED),
    ],
    "writedown_no_truncate": [
        Attempt("TRUNCATE", after_writing(lambda: truncate("costing_writedown")), DELETED, only=POSTGRESQL)
    ],
}
