"""Ways round Python into consignment notes; the database refuses each."""

from collections.abc import Callable

from costing.consignments.models import Consignment, ConsignmentLine
from costing.locations.models import Placement
from tests.costing.consignments.stories import a_note
from tests.costing.locations.stories import make_box, move
from tests.costing.stories import a_piece
from tests.inventory.forging import POSTGRESQL, Attempt, Scene, run
from tests.inventory.side_doors import truncate
from tests.making import money

CHANGED, DELETED = "a note is never changed", "a note is never deleted"


def after_giving(go: Callable[[], object]) -> Callable[[Scene], object]:
    def give_first(_scene: Scene) -> None:
        a_note()
        go()

    return give_first


def _line_of_a_piece_elsewhere() -> None:
    move([a_piece(title="Ebb")], make_box())
    placement = Placement.objects.get(location=make_box())
    row = ConsignmentLine(consignment=Consignment.objects.get(), placement=placement, price=money(1))
    ConsignmentLine.objects.bulk_create([row])


ATTEMPTS = {
    "consignment_update": [
        Attempt("update()", after_giving(lambda: Consignment.objects.update(until=None)), CHANGED),
        Attempt("raw", after_giving(lambda: run("UPDATE costing_consignment SET number = 9")), CHANGED),
    ],
    "consignment_delete": [
        Attempt("raw", after_giving(lambda: run("DELETE FROM costing_consignment")), DELETED)
    ],
    "consignment_no_truncate": [
        Attempt(
            "TRUNCATE",
            after_giving(lambda: truncate("costing_consignment CASCADE")),
            DELETED,
            only=POSTGRESQL,
        )
    ],
    "consignmentline_insert": [
        Attempt("bulk_create()", after_giving(_line_of_a_piece_elsewhere), "was not taken to that gallery")
    ],
    "consignmentline_update": [
        Attempt("update()", after_giving(lambda: ConsignmentLine.objects.update(price=money(1))), CHANGED)
    ],
    "consignmentline_delete": [
        Attempt("delete()", after_giving(lambda: ConsignmentLine.objects.all().delete()), DELETED)
    ],
    "consignmentline_no_truncate": [
        Attempt(
            "TRUNCATE", after_giving(lambda: truncate("costing_consignmentline")), DELETED, only=POSTGRESQL
        )
    ],
}
