"""Ways round Python into what a printed list said; the database refuses each."""

from collections.abc import Callable

from costing.papers.actions import keep_list
from costing.papers.models import PrintedList
from tests.costing.stories import LATER, a_piece
from tests.inventory.forging import POSTGRESQL, Attempt, Scene, run
from tests.inventory.side_doors import truncate
from tests.making import make_submission

CHANGED, DELETED = "it is never changed; print another one", "printed list: it is never deleted"


def after_printing(go: Callable[[], object]) -> Callable[[Scene], object]:
    def print_first(_scene: Scene) -> None:
        keep_list(pieces=[a_piece(price="45.00")], on=LATER, place="", submission=make_submission(on=LATER))
        go()

    return print_first


ATTEMPTS = {
    "printedlist_update": [
        Attempt("update()", after_printing(lambda: PrintedList.objects.update(place="x")), CHANGED),
        Attempt("raw", after_printing(lambda: run("UPDATE costing_printedlist SET prices = '{}'")), CHANGED),
    ],
    "printedlist_delete": [
        Attempt("delete()", after_printing(lambda: PrintedList.objects.all().delete()), DELETED),
        Attempt("raw", after_printing(lambda: run("DELETE FROM costing_printedlist")), DELETED),
    ],
    "printedlist_no_truncate": [
        Attempt("TRUNCATE", after_printing(lambda: truncate("costing_printedlist")), DELETED, only=POSTGRESQL)
    ],
}
