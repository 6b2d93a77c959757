"""Ways round Python into what suppliers promised; the database refuses each."""

from collections.abc import Callable

from inventory.purchasing.actions.orders import ChaseFacts, chase_order
from inventory.purchasing.models import OrderChase
from tests.days import TODAY
from tests.inventory.forging import POSTGRESQL, Attempt, Scene, run
from tests.inventory.side_doors import truncate
from tests.making import make_material, make_order, make_submission

CHANGED, DELETED = "what a supplier promised is never changed", "what a supplier promised is never deleted"


def after_chasing(go: Callable[[], object]) -> Callable[[Scene], object]:
    def chase_first(_scene: Scene) -> None:
        order = make_order((make_material(), 1000))
        chase_order(order=order, facts=ChaseFacts(TODAY, TODAY), submission=make_submission())
        go()

    return chase_first


ATTEMPTS = {
    "orderchase_update": [
        Attempt("update()", after_chasing(lambda: OrderChase.objects.update(note="x")), CHANGED),
        Attempt(
            "raw", after_chasing(lambda: run("UPDATE inventory_orderchase SET promised_on = NULL")), CHANGED
        ),
    ],
    "orderchase_delete": [
        Attempt("delete()", after_chasing(lambda: OrderChase.objects.all().delete()), DELETED),
        Attempt("raw", after_chasing(lambda: run("DELETE FROM inventory_orderchase")), DELETED),
    ],
    "orderchase_no_truncate": [
        Attempt("TRUNCATE", after_chasing(lambda: truncate("inventory_orderchase")), DELETED, only=POSTGRESQL)
    ],
}
