"""Ways round Python into commissions and their payments; the database refuses each."""

from collections.abc import Callable
from typing import Any

from costing.commissions.models import Commission, CommissionPayment
from tests.costing.commissions.stories import a_commission, paid
from tests.costing.stories import LATER, make_channel
from tests.days import AT, june
from tests.inventory.forging import POSTGRESQL, Attempt, Scene, run
from tests.inventory.side_doors import truncate
from tests.making import make_owner, money

HELD, CLOSED, ABOVE, BELOW = (
    "money is still held",
    "it is closed",
    "more than the agreed price",
    "less than nothing",
)
MIRROR, AGREED, CHANGED = "does not mirror", "is not changed once it is closed", "a payment is never changed"


def after_paying(go: Callable[[], object]) -> Callable[[Scene], object]:
    """200.00 agreed, 60.00 paid."""

    def pay_first(_scene: Scene) -> None:
        paid(a_commission())
        go()

    return pay_first


def after_closing(state: str, go: Callable[[], object]) -> Callable[[Scene], object]:
    def close_first(_scene: Scene) -> None:
        a_commission()
        set_to(state=state)
        go()

    return close_first


def set_to(**facts: Any) -> None:
    Commission.objects.update(**facts)


def insert(amount: str, kind: str = "received", *, reverses: bool = False) -> None:
    row = CommissionPayment(
        commission=Commission.objects.get(),
        kind=kind,
        amount=money(amount),
        on=LATER,
        channel=None if kind == "kept" else make_channel(),
        reverses=CommissionPayment.objects.first() if reverses else None,
        recorded_at=AT,
        recorded_by=make_owner(),
    )
    CommissionPayment.objects.bulk_create([row])


ATTEMPTS = {
    "commission_update": [
        Attempt("closed while money is held", after_paying(lambda: set_to(state="sold")), HELD),
        Attempt("cancelled while money is held", after_paying(lambda: set_to(state="cancelled")), HELD),
        Attempt(
            "a price below what was paid", after_paying(lambda: set_to(price=money(59))), "more than that"
        ),
        Attempt("sold after all", after_closing("cancelled", lambda: set_to(state="sold")), "stays closed"),
        Attempt("another end", after_closing("sold", lambda: set_to(state="cancelled")), "stays closed"),
        Attempt("a closed price", after_closing("sold", lambda: set_to(price=money(300))), AGREED),
        Attempt(
            "raw",
            after_closing("sold", lambda: run("UPDATE costing_commission SET agreed_on = %s", [june(1)])),
            AGREED,
        ),
    ],
    "commission_delete": [
        Attempt("raw", after_closing("open", lambda: run("DELETE FROM costing_commission")), "never deleted")
    ],
    "commission_no_truncate": [
        Attempt(
            "TRUNCATE",
            after_closing("open", lambda: truncate("costing_commission CASCADE")),
            "never deleted",
            only=POSTGRESQL,
        )
    ],
    "commissionpayment_insert": [
        Attempt("more than the price", after_paying(lambda: insert("140.01")), ABOVE),
        Attempt("more paid back than held", after_paying(lambda: insert("-60.01", "returned")), BELOW),
        Attempt("more kept than held", after_paying(lambda: insert("-60.01", "kept")), BELOW),
        Attempt("on a closed one", after_closing("sold", lambda: insert("1.00")), CLOSED),
        Attempt("half a reversal", after_paying(lambda: insert("-30.00", reverses=True)), MIRROR),
        Attempt(
            "a reversal as another kind", after_paying(lambda: insert("-60", "kept", reverses=True)), MIRROR
        ),
    ],
    "commissionpayment_update": [
        Attempt("update()", after_paying(lambda: CommissionPayment.objects.update(amount=money(1))), CHANGED),
        Attempt("a reason", after_paying(lambda: CommissionPayment.objects.update(reason="other")), CHANGED),
        Attempt(
            "raw", after_paying(lambda: run("UPDATE costing_commissionpayment SET fee = 10000")), CHANGED
        ),
    ],
    "commissionpayment_delete": [
        Attempt("delete()", after_paying(lambda: CommissionPayment.objects.all().delete()), "never deleted"),
        Attempt("raw", after_paying(lambda: run("DELETE FROM costing_commissionpayment")), "never deleted"),
    ],
    "commissionpayment_no_truncate": [
        Attempt(
            "TRUNCATE",
            after_paying(lambda: truncate("costing_commissionpayment CASCADE")),
            "never deleted",
            only=POSTGRESQL,
        )
    ],
}
